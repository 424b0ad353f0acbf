"""Where the tape is hooked on a board, and the running distances along that edge."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import LineString, Polygon

from scanner.board.board import Board
from scanner.board.flaw import FlawKind
from scanner.board.form import crook_mm
from scanner.lot.off_board import flaws_on_wood
from scanner.units import length_text

EdgeName = Literal["near", "far"]
# Ends out of square by less than this make no difference to a pencil line.
_SQUARE_MM = 1.5
_STATIONS = 41
# A knot this large is found again by eye: it tells the wrong end or face from the right one.
BIG_KNOT_MM = 15.0


@dataclass(frozen=True, slots=True)
class TapeEdge:
    """The edge of face 1 that the tape lies along.

    ``near`` is the edge next to a person who has face 1 up and end A at the left (y large).

    Attributes
    ----------
    corner
        Where the tape is hooked: this edge's corner at end A, board mm.
    out_of_square_mm
        How much further the other edge's corner at end A reaches out (negative: less far).
    """

    name: EdgeName
    corner: tuple[float, float]
    out_of_square_mm: float

    @property
    def is_square(self) -> bool:
        """Whether end A is as good as square."""
        return abs(self.out_of_square_mm) < _SQUARE_MM


def edge_y(outline: Polygon, x: float, name: EdgeName) -> float:
    """Return the y of an edge of the face at x (clamped to the face)."""
    x0, y0, x1, y1 = outline.bounds
    x = min(max(x, x0 + 0.01), x1 - 0.01)
    across = outline.intersection(LineString([(x, y0 - 1), (x, y1 + 1)]))
    if across.is_empty:
        return float(y1 if name == "near" else y0)
    return float(across.bounds[3] if name == "near" else across.bounds[1])


def corner_at_a(outline: Polygon, name: EdgeName) -> tuple[float, float]:
    """Return the corner of an edge at end A."""
    points = np.asarray(outline.exterior.coords)
    # Furthest towards x small and towards the edge: boards are long, so this is the corner.
    reach = points[:, 0] + points[:, 1] * (-1 if name == "near" else 1)
    x, y = points[int(np.argmin(reach))]
    return (float(x), float(y))


def hooked_edge(board: Board) -> TapeEdge:
    """Return the edge for the tape: least wane, then straightest; the near one if alike."""
    outline = board.faces[1].outline
    badness = {name: _badness(board, outline, name) for name in ("near", "far")}
    # A far edge must be clearly better: reaching across the board is awkward.
    name: EdgeName = "far" if badness["far"] + 2.0 < badness["near"] else "near"
    corner = corner_at_a(outline, name)
    other = corner_at_a(outline, "far" if name == "near" else "near")
    return TapeEdge(name, corner, corner[0] - other[0])


def running_mm(board: Board, edge: TapeEdge, x: float) -> float:
    """Return what the tape reads along the hooked edge where a line across at x meets it."""
    y = edge_y(board.faces[1].outline, x, edge.name)
    return math.copysign(math.hypot(x - edge.corner[0], y - edge.corner[1]), x - edge.corner[0])


def tape_text(edge: TapeEdge, units: str = "mm") -> str:
    """Return how to hook the tape, in one sentence."""
    text = f"Hook the tape at end A on the {edge.name} edge."
    if edge.is_square:
        return text
    other = "far" if edge.name == "near" else "near"
    way = "further out" if edge.out_of_square_mm > 0 else "further in"
    return (
        f"{text} End A is not square: its {other} corner lies "
        f"{length_text(abs(edge.out_of_square_mm), units)} {way}."
    )


def landmark_text(board: Board, edge: TapeEdge, units: str = "mm") -> str:
    """Return where the tape meets the largest knot of face 1, to know end and face by; "" if none.

    A board marked from the wrong end, or on the wrong face, is found out before it is cut.
    """
    knots = [
        (max(x1 - x0, y1 - y0), (x0 + x1) / 2, flaw.id)
        for flaw in flaws_on_wood(board, 1)
        if flaw.kind is FlawKind.KNOT
        for x0, y0, x1, y1 in (flaw.outlines[1].bounds,)
    ]
    size_mm, x, name = max(knots, default=(0.0, 0.0, ""))
    if size_mm < BIG_KNOT_MM:
        return ""
    at = length_text(running_mm(board, edge, x), units)
    return f"Right end, right face? Here the middle of knot {name} lies {at} from end A."


def _badness(board: Board, outline: Polygon, name: EdgeName) -> float:
    """Return millimetres of crook plus a tenth of the length with wane along an edge."""
    x0, _, x1, _ = outline.bounds
    xs = np.linspace(x0 + 0.02 * (x1 - x0), x1 - 0.02 * (x1 - x0), _STATIONS)
    edge = np.array([(x, edge_y(outline, float(x), name)) for x in xs])
    middle = float(np.mean([edge_y(outline, x0 + 1, "near"), edge_y(outline, x0 + 1, "far")]))
    wane = 0.0
    for flaw in board.flaws:
        if flaw.kind is FlawKind.WANE and flaw.counts and 1 in flaw.outlines:
            left, top, right, bottom = flaw.outlines[1].bounds
            on_near = (top + bottom) / 2 > middle
            if on_near == (name == "near"):
                wane += right - left
    return crook_mm(edge) + 0.1 * wane
