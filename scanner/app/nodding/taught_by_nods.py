"""What the user's nods on the boards of a lot say of the next board's candidates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.board.taught import taught_by

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.board.taught import Taught
    from scanner.storage.lots import Lot


def taught_elsewhere(lot: Lot, board: Board) -> Taught:
    """Return what was said of the lot's other boards teaches.

    Not of this board: its candidates would change their order under the user's finger.
    """
    return taught_by(other for other in lot.boards() if other.id != board.id)
