"""The board found on its floor and traced for the first time, and the camera fitted with it."""

from dataclasses import replace
from functools import partial

import numpy as np
from shapely.geometry import Polygon

from scanner.board.reading import mid_line
from scanner.errors import PhotoError
from scanner.geometry.polygons import polygon_of
from scanner.vision.face_view import own_views
from scanner.vision.fit.lengths import SMALLEST_U_MM
from scanner.vision.fit.refit import with_board_ends, with_face_points, with_taped_length
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.ground.by_map import board_on_map
from scanner.vision.ground.locate import cut_off, locate_board
from scanner.vision.outline.over_floor import ends_there, is_seen_to_end, trace_views
from scanner.vision.outline.own_floor import OwnFloor
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import TracedOutline
from scanner.vision.overlap import matched_points
from scanner.vision.photos.picture import FacePicture, Photo
from scanner.vision.place import FIRST_END_MARGIN_MM, MARGIN_MM, longer, place_around, same_wood
from scanner.vision.rectify import FacePlace, flatten, ground_place

GROUND_MM_PER_PX = 2.0
# A side so near to the picture's border was not seen to end there.
_AT_BORDER_MM = 8.0
_WIDE_MARGIN_MM = 220.0
# A board that goes on past its picture is followed so often, by half of what was seen of it.
_MOST_LOOKS = 2
# Ends read so much nearer together or further apart than those that the tape was tied to are
# others: read twice, the same ends agree within the smallest U of a length.
_OTHER_ENDS_MM = SMALLEST_U_MM


def rough_place(
    photos: tuple[Photo, ...], fit: ScaleFit, name: str
) -> tuple[FacePlace, OwnFloor | None, str]:
    """Return the board's rectangle in the rule frame with a margin, its floor, a doubtful end."""
    region = ground_place(fit, photos)
    # Not turned, so a shift of its origin puts the picture into the rule frame.
    ground = replace(flatten(photos, fit, region, GROUND_MM_PER_PX), origin_mm=region.origin_mm)
    board = locate_board(ground, fit.rule_area_mm(), name, partial(board_on_map, photos, fit))
    place = place_around(board.outline, board.angle_rad, FIRST_END_MARGIN_MM)
    floor = OwnFloor.of(ground, board.outline, fit.rule_area_mm())
    return place, floor, board.doubtful_end


def first_look(
    photos: tuple[Photo, ...],
    fit: ScaleFit,
    place: FacePlace,
    name: str,
    floor: OwnFloor | None = None,
    doubtful_end: str = "",
) -> tuple[TracedOutline, FacePlace]:
    """Return the outline as first traced, and the place that it was traced in.

    Where a long side runs along the picture's border the board goes on beyond it (only its pale
    sapwood was located, say): it is looked at once more with more floor beside it.
    """
    views = own_views(photos, fit, place)
    _, traced = trace_views(views, floor, name)
    if doubtful_end and not any(
        ends_there(view, traced, doubtful_end, FIRST_END_MARGIN_MM) for view in views
    ):
        raise cut_off(doubtful_end, name)
    traced, place = _to_its_ends(photos, fit, place, traced, name, floor)
    _, low, _, high = traced.outline.bounds
    if low > _AT_BORDER_MM and high < place.size_mm[1] - _AT_BORDER_MM:
        return traced, place
    seen = Polygon(place.rule_from_place(np.array(traced.outline.exterior.coords)))
    wider = place_around(seen, place.angle_rad, MARGIN_MM, _WIDE_MARGIN_MM)
    return trace_views(own_views(photos, fit, wider), floor, name)[1], wider


def _to_its_ends(
    photos: tuple[Photo, ...],
    fit: ScaleFit,
    place: FacePlace,
    traced: TracedOutline,
    name: str,
    floor: OwnFloor | None,
) -> tuple[TracedOutline, FacePlace]:
    """Return outline and place of a board that was located short, looked at further on.

    An outline that ends where its picture does was not seen to end. Seen on a rendered photo: of a
    board that lies half in the shade only the sunlit half was located. What is found further on
    counts only where the board is seen to end there; else all stays as it was.
    """
    looked, further = traced, place
    views: tuple[FacePicture, ...] = ()
    for look in range(_MOST_LOOKS + 1):
        left, _, right, _ = looked.outline.bounds
        goes_on = (left <= _AT_BORDER_MM, right >= further.size_mm[0] - _AT_BORDER_MM)
        if not any(goes_on):
            ends = [any(is_seen_to_end(v, looked, end) for v in views) for end in ("left", "right")]
            return (looked, further) if all(ends) else (traced, place)
        if look < _MOST_LOOKS:
            try:
                further = _as_far_as_the_face(photos, fit, further, looked, goes_on)
                views = own_views(photos, fit, further)
                looked = trace_views(views, floor, name)[1]
            except PhotoError:
                break
    return traced, place


def _as_far_as_the_face(
    photos: tuple[Photo, ...],
    fit: ScaleFit,
    place: FacePlace,
    traced: TracedOutline,
    goes_on: tuple[bool, bool],
) -> FacePlace:
    """Return the place drawn on at its left or right end to where the face first breaks off.

    Further on the floor may look like this board's wood again, in the same shade, say.
    """
    left, _, right, _ = traced.outline.bounds
    before, after = (0.5 * (right - left) * one for one in goes_on)
    seen = SeenSides(own_views(photos, fit, longer(place, before, after)))
    s_mm = seen.lay("upper").s_mm - before
    bare = np.delete(s_mm, seen.board)
    lower, higher = bare[bare < left - _AT_BORDER_MM], bare[bare > right + _AT_BORDER_MM]
    if goes_on[0] and len(lower):
        before = MARGIN_MM - float(lower.max())
    if goes_on[1] and len(higher):
        after = float(higher.min()) + MARGIN_MM - place.size_mm[0]
    return longer(place, before, after)


def with_board(
    photos: tuple[Photo, ...], fit: ScaleFit, traced: TracedOutline, place: FacePlace
) -> tuple[ScaleFit, TracedOutline, FacePlace]:
    """Refit with the board's own ends, its taped length, and grain that several photos show."""
    taped = fit.setup.taped
    ends = place.rule_from_place(np.array(mid_line(traced.outline)))
    if taped is None:
        taught = with_board_ends(fit, ends[0], ends[1])
    else:
        taught = with_taped_length(fit, ends[0], ends[1], taped)
    if len(photos) > 1:
        taught = with_face_points(taught, matched_points(photos, taught, place, traced.outline))

    outline = polygon_of(
        same_wood(fit, taught, place.rule_from_place(np.array(traced.outline.exterior.coords)))
    )
    angle = place.angle_rad
    here = place_around(outline, angle)
    back = here.place_from_rule(np.array(outline.exterior.coords))
    return taught, replace(traced, outline=polygon_of(back), wane=(), covered=()), here


def tied_anew(
    photos: tuple[Photo, ...],
    by_rule: ScaleFit,
    fit: ScaleFit,
    traced: TracedOutline,
    place: FacePlace,
) -> tuple[ScaleFit, TracedOutline, FacePlace] | None:
    """Return what `with_board` does where a tape was tied to other ends than are now traced.

    None where it was not. The first trace is made in a picture as flat as the rule alone can make
    it. Seen on a rendered board on grass: a rule whose tilt was known badly drew it 70 mm short,
    the first trace ran 7 mm past its end, and the tape, tied to that, made the board 8 mm short.

    Parameters
    ----------
    by_rule, fit
        Before and after the board was taped.
    """
    off_mm = fit.off_the_tape_mm(*place.rule_from_place(np.array(mid_line(traced.outline))))
    if abs(off_mm) <= _OTHER_ENDS_MM:
        return None
    outline = polygon_of(
        same_wood(fit, by_rule, place.rule_from_place(np.array(traced.outline.exterior.coords)))
    )
    here = place_around(outline, place.angle_rad)
    back = polygon_of(here.place_from_rule(np.array(outline.exterior.coords)))
    return with_board(photos, by_rule, replace(traced, outline=back), here)
