"""The steps in order for one face: this file reads like a table of contents."""

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import Literal

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Polygon

from scanner.board.board import Station
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.form import crook_mm
from scanner.board.measured import Measured
from scanner.board.reading import (
    STATION_SHARES,
    FaceReading,
    edge_points_mm,
    mid_line,
    span_along_y_mm,
)
from scanner.errors import PhotoError
from scanner.geometry.polygons import polygon_of, union_of
from scanner.vision.blades import grass_over, without_blades
from scanner.vision.colour import strip_white, wood_colour
from scanner.vision.each_photo import held_against_each
from scanner.vision.face_view import face_picture, own_views
from scanner.vision.fit.profile import evidence_of
from scanner.vision.fit.refit import with_board_ends, with_face_points, with_taped_length
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.flaws import SeenWood, see_wood
from scanner.vision.ground.locate import cut_off, locate_board
from scanner.vision.outline.over_floor import ends_there, trace_views
from scanner.vision.outline.own_floor import OwnFloor
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import TracedOutline, trace_seen
from scanner.vision.overlap import matched_points
from scanner.vision.picture import FacePicture, FaceScan, Photo
from scanner.vision.place import (
    FIRST_END_MARGIN_MM,
    MARGIN_MM,
    along_the_board,
    card_beside,
    place_around,
    same_wood,
)
from scanner.vision.raking import lay_over
from scanner.vision.rectify import FacePlace, flatten, ground_place
from scanner.vision.rule.cards import find_cards
from scanner.vision.scale import fit_scale
from scanner.vision.second_look.wiped_photos import wiped_photos
from scanner.vision.setup import Setup

Progress = Callable[[str, float], None]

GROUND_MM_PER_PX = 2.0
_LONE_RULE = (
    "A plain rule alone gave the scale, and a rule read wrongly would not show:"
    " tape the board and give its length"
)
_ON_GRASS = (
    "Grass lies over the rim: nothing is told under it, so brush it off or lay the board elsewhere"
)
_COVERED = (
    "An edge of the face leaves the saw's line where something lies over it: the line is drawn on"
    " under it, the widths there carry the difference, and wane would not show: clear it"
)
# A long side so near to the picture's border was not seen to end there.
_AT_BORDER_MM = 8.0
_WIDE_MARGIN_MM = 220.0
# What is mostly grass and its shadows is no flaw that could be seen.
_MOST_GRASS = 0.5
# geometry.md section 7: beyond these no number is given.
_MOST_U_LENGTH = 0.03
_MOST_U_WIDTH = 0.10
# design.md section 4: "rough" beyond these.
_ROUGH_U_LENGTH = 0.005
_ROUGH_U_WIDTH_MM = 5.0


def scan_face(
    photos: tuple[Photo, ...],
    setup: Setup,
    progress: Progress = lambda step, share: None,
    raking: Photo | None = None,
    *,
    is_marked: bool = False,
) -> FaceScan:
    """Return all that is read off one face.

    Parameters
    ----------
    photos
        One or more photographs of the face.
    setup
        Reference, thickness and taped sizes.
    progress
        Called with the step's name and the share done, 0 to 1.
    raking
        The same face once more under a low lamp, or after a damp wipe: used for checks only. Where
        it cannot be laid over the first photo the scan goes on without it and says so.
    is_marked
        Parts are drawn on the face: their lines are wiped out before the board is looked for, and
        stay in the picture.

    Raises
    ------
    PhotoError
        No scale, no board, or nothing that can be measured.
    """
    name = photos[0].name
    progress("finding the rule", 0.0)
    fit = fit_scale(photos, setup)
    as_taken = photos
    if is_marked:
        photos = wiped_photos(photos, fit)
    progress("finding the board", 0.3)
    place, floor, doubtful = _rough_place(photos, fit, name)
    progress("tracing the outline", 0.4)
    traced, place = _first_look(photos, fit, place, name, floor, doubtful)
    fit, traced, place = _with_board(photos, fit, traced, place)
    card = card_beside(fit, place, traced, find_cards(photos[0]))
    place = along_the_board(fit, place, traced, card[1] if card else None)
    views = own_views(photos, fit, place)
    progress("tracing the outline", 0.6)
    # The outline's map was taught with blades over the rim and does worse where they are painted
    # over; the finders of flaws do better.
    sides, traced = trace_views(views, floor, name)
    picture = face_picture(photos, fit, place, views)
    bare = without_blades(picture)
    progress("looking for flaws", 0.7)
    raked, untold = (
        (None, []) if raking is None else _raked(raking, setup, place, bare, traced.outline)
    )
    wood = _not_grass(bare, see_wood(bare, traced.outline, traced.wane, raked=raked))
    if is_marked:
        picture = face_picture(as_taken, fit, place, own_views(as_taken, fit, place))
    reading, moved = _reading(picture, fit, place, traced, wood)
    reading, untrue = _held(
        reading,
        photos,
        sides,
        lambda one: _reading(picture, fit, place, one, SeenWood((), ()))[0],
    )
    # A marked board is known: it is laid over its own length and width, however little this photo
    # tells of them.
    by_fit = _widest_u_mm(fit, place, traced.outline)
    quality = "rough" if is_marked else _quality(reading, by_fit, name)
    white = strip_white(photos, fit, place)
    no_wood = (*traced.wane, *(flaw.outlines[1] for flaw in wood.flaws))
    apart = (*wood.sapwood, *no_wood)
    # Seen on a rendered photo: a rule read at half its steps doubled the board (bench-floor).
    alone = [_LONE_RULE] if fit.kind == "plain" and setup.taped is None else []
    under = [_COVERED] if traced.covered else []
    lawn = [_ON_GRASS] if grass_over(bare, traced.outline) > 0 else []
    progress("done", 1.0)
    return FaceScan(
        picture=moved,
        reading=reading,
        rule=fit.kind,
        photos=tuple(photo.name for photo in photos),
        u_scale=fit.u_scale,
        quality=quality,
        lens=evidence_of(fit, photos),
        card=(card[0].board, card[0].face) if card else None,
        colour=wood_colour(bare, traced.outline, apart, white) if white else None,
        sap_colour=wood_colour(bare, union_of(wood.sapwood), no_wood, white) if white else None,
        doubts=tuple(
            dict.fromkeys(
                [
                    *(d for p in photos for d in p.doubts),
                    *fit.doubts,
                    *untrue,
                    *alone,
                    *under,
                    *lawn,
                    *untold,
                ]
            )
        ),
        raking=None if raked is None else replace(raked, origin_mm=moved.origin_mm),
    )


def _held(
    reading: FaceReading,
    photos: tuple[Photo, ...],
    sides: SeenSides,
    read: Callable[[TracedOutline], FaceReading],
) -> tuple[FaceReading, list[str]]:
    """Return a face of several photos held against what each of them tells alone."""
    if len(photos) == 1:
        return reading, []
    alone, names = [], []
    for index, photo in enumerate(photos):
        # One that cannot be read alone says nothing against the others.
        with suppress(PhotoError):
            alone.append(read(trace_seen(sides.through(index), photo.name)))
            names.append(photo.name)
    return held_against_each(reading, alone, names)


def _raked(
    photo: Photo, setup: Setup, place: FacePlace, face: FacePicture, outline: Polygon
) -> tuple[FacePicture | None, list[str]]:
    """Return the low lamp's photo laid over the face, or None and why not.

    Board and rule lie where they lay, so the board need not be found again under that light.
    """
    try:
        fit = fit_scale((photo,), setup)
        (flat,) = own_views((photo,), fit, place)
        return lay_over(face, outline, flat, outline, photo.name).picture, []
    except PhotoError as error:
        return None, [f"{photo.name} was not used: {error.what}"]


def first_outline(photos: tuple[Photo, ...], setup: Setup) -> FaceReading:
    """Return a face as its outline alone tells it: enough to see which faces are one board's.

    Raises
    ------
    PhotoError
        No scale, or no board.
    """
    name = photos[0].name
    fit = fit_scale(photos, setup)
    place, floor, doubtful = _rough_place(photos, fit, name)
    traced, place = _first_look(photos, fit, place, name, floor, doubtful)
    fit, traced, place = _with_board(photos, fit, traced, place)
    # Only how well points are seen is asked of this picture.
    picture = flatten(photos, fit, place, GROUND_MM_PER_PX)
    return _reading(picture, fit, place, traced, SeenWood((), ()))[0]


def _first_look(
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
    _, low, _, high = traced.outline.bounds
    if low > _AT_BORDER_MM and high < place.size_mm[1] - _AT_BORDER_MM:
        return traced, place
    seen = Polygon(place.rule_from_place(np.array(traced.outline.exterior.coords)))
    wider = place_around(seen, place.angle_rad, MARGIN_MM, _WIDE_MARGIN_MM)
    return trace_views(own_views(photos, fit, wider), floor, name)[1], wider


def _not_grass(face: FacePicture, wood: SeenWood) -> SeenWood:
    """Return what is seen of the wood less what is grass; a person's own mark stays."""
    stays = tuple(
        flaw
        for flaw in wood.flaws
        if flaw.kind is FlawKind.MARKED or grass_over(face, flaw.outlines[1]) < _MOST_GRASS
    )
    return replace(wood, flaws=stays)


def _rough_place(
    photos: tuple[Photo, ...], fit: ScaleFit, name: str
) -> tuple[FacePlace, OwnFloor | None, str]:
    """Return the board's rectangle in the rule frame with a margin, its floor, a doubtful end."""
    region = ground_place(fit, photos)
    # Not turned, so a shift of its origin puts the picture into the rule frame.
    ground = replace(flatten(photos, fit, region, GROUND_MM_PER_PX), origin_mm=region.origin_mm)
    board = locate_board(ground, fit.rule_area_mm(), name)
    place = place_around(board.outline, board.angle_rad, FIRST_END_MARGIN_MM)
    floor = OwnFloor.of(ground, board.outline, fit.rule_area_mm())
    return place, floor, board.doubtful_end


def _with_board(
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


def _reading(
    picture: FacePicture,
    fit: ScaleFit,
    place: FacePlace,
    traced: TracedOutline,
    wood: SeenWood,
) -> tuple[FaceReading, FacePicture]:
    """Return the measures, and the picture with its origin in the face's own frame."""
    low_x, low_y, _, _ = traced.outline.bounds

    def in_face(shape: Polygon) -> Polygon:
        return affinity.translate(shape, -low_x, -low_y)

    def u_between(p: tuple[float, float], q: tuple[float, float]) -> float:
        both = place.rule_from_place(np.array([p, q]))
        return fit.u_between(both[0], both[1])

    outline = traced.outline
    a, b = mid_line(outline)
    length = Measured(float(np.hypot(b[0] - a[0], b[1] - a[1])), u_between(a, b))
    stations = []
    for share in STATION_SHARES:
        x = a[0] + share * (b[0] - a[0])
        span = span_along_y_mm(outline, x)
        if span is None:
            continue
        u = u_between((x, span[0]), (x, span[1]))
        under = [_thickness_mm(shape, x) for shape in traced.covered]
        if any(under):
            u = math.ceil(10 * math.hypot(u, *under)) / 10
        stations.append(Station(x - low_x, Measured(span[1] - span[0], u)))
    edges = [edge_points_mm(outline, side) for side in ("upper", "lower")]
    reading = FaceReading(
        outline=in_face(outline),
        flaws=tuple(
            replace(flaw, outlines={1: in_face(flaw.outlines[1])})
            for flaw in (*_as_flaws(traced, picture), *wood.flaws)
        ),
        length=length,
        widths=tuple(stations),
        # The straighter edge tells the crook: the other may carry wane or a saw's wander.
        crook_mm=min(crook_mm(edge) for edge in edges),
        outline_u_mm=_outline_u_mm(picture, traced),
        sapwood=tuple(in_face(shape) for shape in wood.sapwood),
    )
    origin = (picture.origin_mm[0] - low_x, picture.origin_mm[1] - low_y)
    return reading, replace(picture, origin_mm=origin)


def _outline_u_mm(picture: FacePicture, traced: TracedOutline) -> float:
    """Return U of the outline: that of a well seen edge by the fit, or of a faint one as traced.

    Rendered boards on floors of their own colour and on grass had arrises 2 to 5 mm off whose U
    said a millimetre, since only the fit's had been told.
    """
    return max(picture.u_point_mm, traced.u_mm)


def _thickness_mm(shape: Polygon, x: float) -> float:
    """Return how far a shape reaches along y at a place along the board, 0 where it does not."""
    _, low, _, high = shape.bounds
    return float(shape.intersection(LineString([(x, low - 1), (x, high + 1)])).length)


def _as_flaws(traced: TracedOutline, picture: FacePicture) -> tuple[Flaw, ...]:
    return tuple(
        Flaw(
            id=f"W{n}",
            kind=FlawKind.WANE,
            outlines={1: shape},
            score=0.9,
            reason="bark or a rounded edge outside the flat face",
            u_mm=_outline_u_mm(picture, traced),
        )
        for n, shape in enumerate(traced.wane, start=1)
    )


def _widest_u_mm(fit: ScaleFit, place: FacePlace, outline: Polygon) -> float:
    """Return the largest U of a width by the fit, whatever lies over an edge."""
    a, b = mid_line(outline)
    along = [a[0] + share * (b[0] - a[0]) for share in STATION_SHARES]
    spans = ((x, span_along_y_mm(outline, x)) for x in along)
    ends = [place.rule_from_place(np.array([(x, s[0]), (x, s[1])])) for x, s in spans if s]
    return max(fit.u_between(low, high) for low, high in ends)


def _quality(reading: FaceReading, widest_by_fit_mm: float, name: str) -> Literal["good", "rough"]:
    """Return how good a face's sizes are; refused is what the fit itself tells too little of.

    A width that something lies over is unsure in that place only, and makes the board rough.
    """
    length = reading.length
    widest = max(station.width.u_mm for station in reading.widths)
    narrowest = min(reading.widths, key=lambda station: station.width.value_mm).width
    mend = "take the photo again from higher up, or tape the board and give its length"
    if length.u_mm > _MOST_U_LENGTH * length.value_mm:
        raise PhotoError(f"{name} gives the board's length only as {length.text()}", mend)
    if widest_by_fit_mm > _MOST_U_WIDTH * narrowest.value_mm:
        told = Measured(narrowest.value_mm, widest_by_fit_mm)
        raise PhotoError(f"{name} gives the board's width only as {told.text()}", mend)
    if length.u_mm > _ROUGH_U_LENGTH * length.value_mm or widest > _ROUGH_U_WIDTH_MM:
        return "rough"
    return "good"
