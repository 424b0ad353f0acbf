"""Rule: boards and parts that the user has tied together or kept apart."""

from scanner.board.board import Board
from scanner.placement.parts import Part
from scanner.placement.shop import Shop


def refusal(board: Board, part: Part, shop: Shop) -> str | None:
    """Return why the whole board is ruled out, or None."""
    if board.keep_whole:
        return "is kept whole"
    if board.only_parts is not None and part.name not in board.only_parts:
        return "is kept for other parts"
    if part.only_boards and board.id not in part.only_boards:
        return "is not among the boards named for this part"
    if board.id in part.not_boards:
        return "is ruled out for this part"
    return None
