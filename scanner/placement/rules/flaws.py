"""Rule: which flaws a part must keep clear of, by what it asks of its faces."""

from itertools import pairwise
from typing import assert_never

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.board.flaw import CRACKS, Flaw, FlawKind, FlawState
from scanner.placement.parts import Faces, Part
from scanner.placement.rules.ground import Where, Zone, grown
from scanner.placement.shop import Shop

# So far from one long edge a hidden part may carry wane.
WANE_ALLOWED_MM = 10.0
# Wild grain weakens a part within this of its long arrises.
ARRIS_RIM_MM = 25.0
# A smaller hole is a pin hole, which does not weaken.
_PIN_HOLE_MM = 2.0


def weakens(flaw: Flaw) -> bool:
    """Whether the flaw weakens a part wherever it lies in it; one nobody looked at does."""
    if flaw.state is FlawState.POSSIBLE:
        return True
    match flaw.kind:
        case FlawKind.KNOT:
            return flaw.sound is not True
        case FlawKind.STAIN | FlawKind.PITCH | FlawKind.WILD_GRAIN:
            return False
        case FlawKind.HOLE:
            return max((across_mm(shape) for shape in flaw.outlines.values()), default=0) >= (
                _PIN_HOLE_MM
            )
        case (
            FlawKind.CHECK
            | FlawKind.SPLIT
            | FlawKind.SHAKE
            | FlawKind.WANE
            | FlawKind.BARK_POCKET
            | FlawKind.ROT
            | FlawKind.PITH
            | FlawKind.MARKED
        ):
            return True
    assert_never(flaw.kind)


def across_mm(shape: Polygon) -> float:
    """Return the longer side of the smallest rectangle round a shape."""
    corners = list(getattr(shape.minimum_rotated_rectangle, "exterior", shape.boundary).coords)
    sides = [((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 for (x0, y0), (x1, y1) in pairwise(corners)]
    return max(sides, default=0.0)


def forbidden_where(flaw: Flaw, part: Part, show_face: int | None) -> Where | None:
    """Return which rows of the part the flaw may not touch, or None where it is allowed."""
    if not flaw.counts:
        return None
    if flaw.state is FlawState.POSSIBLE or part.faces is Faces.BOTH:
        return Where.ALL
    if flaw.kind is FlawKind.WILD_GRAIN:
        return Where.ALL if part.faces is Faces.SHOW else Where.RIM
    if part.faces is Faces.SHOW and (flaw.is_through or show_face in flaw.outlines):
        return Where.ALL
    if flaw.kind is FlawKind.KNOT and flaw.sound and part.max_knot_mm is not None:
        # The back of a part that shows one face may carry a sound knot: the limit is its, too.
        largest = max((across_mm(shape) for shape in flaw.outlines.values()), default=0.0)
        return Where.ALL if largest > part.max_knot_mm else None
    return Where.ALL if weakens(flaw) else None


def zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return the ground of every flaw that this part, shown on this face, must not touch."""
    found = []
    for flaw in board.flaws:
        where = forbidden_where(flaw, part, show_face)
        if where is None:
            continue
        name = f"{flaw.kind.words} {flaw.id}"
        for number, outline in flaw.outlines.items():
            shape = _with_reach(flaw, outline, board)
            ground = grown(shape, flaw.u_mm, board.faces[number].u_scale, shop)
            side = where
            if part.faces is Faces.HIDDEN and flaw.kind is FlawKind.WANE:
                side = _wane_side(flaw, outline, board, number)
            found.append(Zone(ground, name, side))
    return tuple(found)


def _wane_side(flaw: Flaw, outline: Polygon, board: Board, face: int) -> Where:
    """Return the rows that wane still forbids to a hidden part: it may carry 10 mm of it."""
    if flaw.state is FlawState.POSSIBLE:
        return Where.ALL
    _, low, _, high = board.faces[face].outline.bounds
    return Where.NOT_LOW_EDGE if outline.centroid.y < (low + high) / 2 else Where.NOT_HIGH_EDGE


def _with_reach(flaw: Flaw, outline: Polygon, board: Board) -> BaseGeometry:
    """Return a crack's outline, drawn out as far as it runs on the face where it is longer."""
    if flaw.reach_mm is None or flaw.kind not in CRACKS:
        return outline
    x0, y0, x1, y1 = outline.bounds
    left, _, right, _ = board.faces[1].outline.bounds
    if (x0 + x1) / 2 - left < right - (x0 + x1) / 2:
        return outline.union(box(x0, y0, max(x1, left + flaw.reach_mm), y1))
    return outline.union(box(min(x0, right - flaw.reach_mm), y0, x1, y1))
