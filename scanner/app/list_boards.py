"""The errand "what lies in the lot": one line a board, and taking a board out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.open_lot import new_stamp
from scanner.app.page_state import board_head, board_size, board_trust

if TYPE_CHECKING:
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot
    from scanner.storage.rows import BoardStanding


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A board in words."""

    id: str
    head: str
    size: str
    trust: str
    looked_over: str
    notes: tuple[str, ...]


def board_lines(lot: Lot) -> tuple[BoardLine, ...]:
    """Return the boards of a lot in words, in the order they came in."""
    units = lot.shop().units
    standings = {line.id: line for line in lot.standings()}
    return tuple(
        BoardLine(
            board.id,
            board_head(board, units),
            board_size(board, units),
            board_trust(board),
            _looked_over(standings[board.id]),
            board.notes,
        )
        for board in lot.boards()
    )


def take_out(lot: Lot, board_id: str) -> Answer:
    """Take a board out of the lot; its photos stay, and undo brings it back.

    Raises
    ------
    LotError
        The lot has no such board.
    """
    return lot.remove_board(board_id, new_stamp(lot, "page"))


def _looked_over(line: BoardStanding) -> str:
    if line.is_done:
        return "Looked over."
    if line.open_flaws:
        flaws = "possible flaw" if line.open_flaws == 1 else "possible flaws"
        return f"{line.open_flaws} {flaws} to look at."
    return "No possible flaw is open, but nobody said that both faces are looked over."
