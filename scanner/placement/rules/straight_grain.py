"""Rule: a part that asks for straight grain keeps clear of all grain known to be turned.

``1 in N`` is the steepest slope the part may carry. Wild grain and the grain round a knot, even a
sound one, are steeper than any slope worth asking for (Wood Handbook, chapter 5, "Slope of
grain"), so the part takes neither anywhere, where others only keep them from their arrises. How
the grain of the rest of a board slopes is known where a photo of its edge told it; a board of
steeper grain is left out. A part that follows the grain takes no
wild grain either: there is no course there that it could follow.
"""

from scanner.board.board import Board
from scanner.board.flaw import FlawKind
from scanner.placement.parts import Part
from scanner.placement.rules.ground import Zone, grown
from scanner.placement.shop import Shop

_TURNED = (FlawKind.WILD_GRAIN, FlawKind.KNOT)


def has_slope_limit(part: Part) -> bool:
    """Whether the part asks for a steepest slope (``follow`` asks for something else)."""
    return part.straight_grain is not None and part.straight_grain.startswith("1")


def refusal(board: Board, part: Part, shop: Shop) -> str | None:
    """Return why a board of steep grain cannot give a part with a slope limit, or None."""
    if board.slope_one_in is None or not has_slope_limit(part) or part.straight_grain is None:
        return None
    most = float(part.straight_grain.split("in")[-1])
    if board.slope_one_in >= most:
        return None
    slope = f"1 in {board.slope_one_in:.1f}"
    return f"has grain that may slope {slope} through the board, not 1 in {most:g}"


def zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return wild grain on both faces, and knots too for a part with a slope limit."""
    if part.straight_grain is None:
        return ()
    turned = _TURNED if has_slope_limit(part) else (FlawKind.WILD_GRAIN,)
    return tuple(
        Zone(
            grown(outline, flaw.u_mm, board.faces[number].u_scale, shop),
            f"{flaw.kind.words} {flaw.id}",
        )
        for flaw in board.flaws
        if flaw.counts and flaw.kind in turned
        for number, outline in flaw.outlines.items()
    )
