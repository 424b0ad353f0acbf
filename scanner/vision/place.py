"""Where the board's rectangle lies in the rule frame, and which of its ends is end A."""

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.reading import mid_line
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.outline.trace import TracedOutline
from scanner.vision.rectify import FacePlace
from scanner.vision.rule.cards import SeenCard, end_with_card

# Floor shown round the board: enough for the tracer to learn what is not wood.
MARGIN_MM = 60.0
# Past the ends of a board that was only located: lighter, darker or painted ends may be missed.
FIRST_END_MARGIN_MM = 110.0


def place_around(
    outline: Polygon,
    angle_rad: float,
    end_margin_mm: float = MARGIN_MM,
    side_margin_mm: float = MARGIN_MM,
) -> FacePlace:
    """Return the rectangle, turned by an angle, round an outline in the rule frame."""
    upright = affinity.rotate(outline, -angle_rad, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = upright.bounds
    corner = _turned(np.array([[x0 - end_margin_mm, y0 - side_margin_mm]]), angle_rad)[0]
    return FacePlace(
        origin_mm=(float(corner[0]), float(corner[1])),
        angle_rad=angle_rad,
        size_mm=(x1 - x0 + 2 * end_margin_mm, y1 - y0 + 2 * side_margin_mm),
    )


def longer(place: FacePlace, left_mm: float, right_mm: float) -> FacePlace:
    """Return the place with more shown past its left and its right border, mm."""
    corner = place.rule_from_place(np.array([[-left_mm, 0.0]]))[0]
    return FacePlace(
        origin_mm=(float(corner[0]), float(corner[1])),
        angle_rad=place.angle_rad,
        size_mm=(place.size_mm[0] + left_mm + right_mm, place.size_mm[1]),
    )


def _turned(points: NDArray[np.float64], angle_rad: float) -> NDArray[np.float64]:
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    turned: NDArray[np.float64] = points @ np.array([[c, s], [-s, c]])
    return turned


def card_beside(
    fit: ScaleFit, place: FacePlace, traced: TracedOutline, cards: tuple[SeenCard, ...]
) -> tuple[SeenCard, int] | None:
    """Return the card that lies at an end of the board, and which end of its mid-line that is."""
    ends = place.rule_from_place(np.array(mid_line(traced.outline)))
    return end_with_card(cards, fit.photo_from_face(0, ends))


def along_the_board(
    fit: ScaleFit, place: FacePlace, traced: TracedOutline, card_end: int | None = None
) -> FacePlace:
    """Return the place turned so that x runs along the board from end A.

    ``card_end``: the end of the mid-line that has a board card; it overrules the rest.
    """
    whole = [traced.outline, *traced.wane]
    ends = place.rule_from_place(np.array(mid_line(traced.outline)))
    if card_end == 1 or (card_end is None and _is_turned_round(fit, ends)):
        ends = ends[::-1]
    along = ends[1] - ends[0]
    angle = float(np.arctan2(along[1], along[0]))
    points = np.vstack([np.array(shape.exterior.coords) for shape in whole])
    return place_around(
        Polygon(place.rule_from_place(points)).convex_hull,
        angle,
    )


def same_wood(
    fit: ScaleFit, taught: ScaleFit, points_mm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return (N, 2) face points of one fit as another lays the same wood, mm in the rule frame.

    What stays is where the wood lies in the photo that shows it. Seen on a rendered long board: a
    camera carried on to wood far outside its picture bends it by a foot.
    """
    moved = np.empty_like(points_mm)
    showing = np.array([fit.source(point) for point in points_mm])
    for photo in np.unique(showing):
        here = showing == photo
        seen = fit.photo_from_face(int(photo), points_mm[here])
        moved[here] = taught.face_from_photo(int(photo), seen)
    return moved


def _is_turned_round(fit: ScaleFit, ends_mm: NDArray[np.float64]) -> bool:
    """Return whether the second point is end A.

    Nearer the strip's zero mark; without a strip the left end in the photo, or the lower end if
    the board runs more up than across.
    """
    if fit.kind == "strip":
        return bool(ends_mm[1, 0] < ends_mm[0, 0])
    seen = fit.photo_from_face(0, ends_mm)
    across, down = seen[1] - seen[0]
    if abs(across) >= abs(down):
        return bool(across < 0)
    return bool(down > 0)
