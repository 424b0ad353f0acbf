"""Rule: a part that follows the grain is turned with it, up to 15 degrees.

The course of a board's grain is what its pictures or its cracks say (`Board.grain_deg`); where
nothing does, the part lies along the board. Members of a set, staves and curved parts (which have
a grain line of their own) are not turned.
"""

from scanner.board.board import Board
from scanner.placement.parts import Part
from scanner.placement.shop import Shop

MOST_DEG = 15.0
# 1 in 57: less than a course is known to, and less than a maker would bother with.
LEAST_DEG = 1.0


def follows(part: Part) -> bool:
    """Whether a part asks to be turned with the grain, and may be."""
    return part.straight_grain == "follow" and not part.match and part.outline_mm is None


def turn_deg(board: Board, part: Part) -> float:
    """Return by how much a part is turned on a board, degrees, positive from x towards y."""
    if not follows(part) or board.grain_deg is None or abs(board.grain_deg) < LEAST_DEG:
        return 0.0
    return round(board.grain_deg, 1)


def refusal(board: Board, part: Part, shop: Shop) -> str | None:
    """Return why the whole board is ruled out, or None."""
    turn = turn_deg(board, part)
    if abs(turn) <= MOST_DEG:
        return None
    return f"has grain that runs {abs(turn):.0f} degrees off, more than {MOST_DEG:.0f}"
