"""`Zone`: ground a part may not take, and the margin that is kept from it."""

import math
from dataclasses import dataclass, replace
from enum import Enum

from shapely import affinity
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.placement.shop import Shop

# A margin that grows along the board is laid on in steps no coarser than this, to the safe side.
MARGIN_STEP_MM = 0.2
# Where only one of the two margins is nothing it counts as this, so that shapes can be drawn.
_LEAST_MM = 0.01


class Where(Enum):
    """Which rows of a part a zone forbids (rows run along the part, low y first)."""

    ALL = "all"
    # Wane may enter a hidden part from one long edge, up to 10 mm (`on_one_edge`).
    NOT_LOW_EDGE = "all but the first 10 mm"
    NOT_HIGH_EDGE = "all but the last 10 mm"
    # Wild grain weakens only within 25 mm of an arris.
    RIM = "the outer 25 mm of both long edges"


@dataclass(frozen=True, slots=True)
class Zone:
    """Ground a part may not take, margin included (board frame, mm), and its name in words."""

    ground: BaseGeometry
    name: str
    where: Where = Where.ALL


def on_one_edge(zones: tuple[Zone, ...]) -> tuple[tuple[Zone, ...], ...]:
    """Return the zones once for each long edge that may carry wane, or once where it is all one.

    A part carries wane along one of its edges only: on a board that has some along both, what may
    touch the one edge keeps off the part's other one.
    """
    both = (Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE)
    if not {zone.where for zone in zones}.issuperset(both):
        return (zones,)
    return tuple(
        tuple(replace(z, where=Where.ALL) if z.where is other else z for z in zones)
        for other in reversed(both)
    )


def margin_mm(u_mm: float, u_scale: float, at_mm: float, shop: Shop) -> float:
    """Return the margin kept at a place: sqrt(U^2 + (u_scale at)^2) + sawing tolerance.

    ``at_mm`` is the place's x for the margin along the board, its y for the margin across it: a
    scale that is off moves a place by its share of x along the board, and by its share of y across.
    """
    return math.hypot(u_mm, u_scale * max(at_mm, 0.0)) + shop.sawing_tolerance_mm


def grown(
    shape: BaseGeometry, u_mm: float, u_scale: float, shop: Shop, most_y_mm: float = math.inf
) -> BaseGeometry:
    """Return the shape and the margin round it; the margin grows with x, in steps rounded up.

    Across the board the margin is that at the shape's largest y, or at ``most_y_mm`` where what
    lies beyond that is no matter.
    """
    if shape.is_empty:
        return shape
    left, low, right, high = shape.bounds
    across = margin_mm(u_mm, u_scale, min(high, most_y_mm), shop)
    spread = margin_mm(u_mm, u_scale, right, shop) - margin_mm(u_mm, u_scale, left, shop)
    steps = max(1, math.ceil(spread / MARGIN_STEP_MM))
    if steps == 1:
        return _buffered(shape, margin_mm(u_mm, u_scale, right, shop), across)
    width = (right - left) / steps
    slices = []
    for n in range(steps):
        # Neighbours overlap a little, so that no hairline stays between them.
        x0, x1 = left + n * width - 0.01, left + (n + 1) * width + 0.01
        piece = shape.intersection(box(x0, low - 1, x1, high + 1))
        if not piece.is_empty:
            slices.append(_buffered(piece, margin_mm(u_mm, u_scale, x1, shop), across))
    return unary_union(slices)


def _buffered(shape: BaseGeometry, along: float, across: float) -> BaseGeometry:
    if max(along, across) <= 0:
        return shape
    along, across = max(along, _LEAST_MM), max(across, _LEAST_MM)
    # Drawn narrower along the board both margins are one length. Mitred corners hold every point
    # within the margin; round ones are chords and fall short.
    share = across / along
    narrow = affinity.scale(shape, share, 1.0, origin=(0.0, 0.0))
    wide = narrow.buffer(across, join_style="mitre", mitre_limit=2.0)
    return affinity.scale(wide, 1.0 / share, 1.0, origin=(0.0, 0.0))


# The board asked for last, and its extent: every rule asks for it anew, for each kind of part.
_last: tuple[Board, tuple[float, float, float, float]] | None = None


def frame_of(board: Board) -> tuple[float, float, float, float]:
    """Return the extent of the wood of both faces: x0, y0, x1, y1 in mm."""
    global _last
    known = _last
    if known is not None and known[0] is board:
        return known[1]
    bounds = [board.wood(face).bounds for face in board.faces]
    frame = (
        min(b[0] for b in bounds),
        min(b[1] for b in bounds),
        max(b[2] for b in bounds),
        max(b[3] for b in bounds),
    )
    _last = board, frame
    return frame
