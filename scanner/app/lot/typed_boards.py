"""The errand "boards without photos": a typed list into a lot, a lot's boards as such a list."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.lot.add_board import free_board_id
from scanner.app.lot.open_lot import new_stamp
from scanner.errors import BoardError
from scanner.files.board_rows import file_key
from scanner.files.boards_list import board_of_cells, boards_csv, boards_of_text, flaw_example
from scanner.units import without_unseen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.storage.lots import Lot


def take_typed_boards(lot: Lot, text: str, name: str = "the list") -> tuple[str, ...]:
    """Keep the boards of a ``boards.csv`` in a lot, all of them or none; return their names.

    Parameters
    ----------
    text
        The table; a bare figure takes the lot's units.
    name
        What the sentences call it.

    Raises
    ------
    BoardError
        Something in it is wrong, or the lot has a board of that name.
    """
    boards = boards_of_text(text, name, lot.shop().units)
    here = {file_key(board.id): board.id for board in lot.boards()}
    taken = [here[file_key(board.id)] for board in boards if file_key(board.id) in here]
    if taken:
        raise BoardError(
            f"the lot has a board called {taken[0]} already", "give the board another id"
        )
    for board in boards:
        lot.save_board(board, new_stamp(lot))
    return tuple(board.id for board in boards)


def take_typed_board(lot: Lot, cells: Mapping[str, str]) -> str:
    """Keep one typed board in a lot under the next free name, which is returned.

    Parameters
    ----------
    cells
        By column of ``boards.csv`` but for its id; an empty one was not said.

    Raises
    ------
    BoardError
        A cell is wrong or missing.
    """
    name = free_board_id(lot)
    typed = {key: without_unseen(cell).strip() for key, cell in cells.items()}
    said = {"id": name} | {key: cell for key, cell in typed.items() if cell}
    missing = [key for key in ("length", "width", "thickness") if key not in said]
    if missing:
        raise BoardError(f"the board's {missing[0]} is missing", "fill it in")
    lot.save_board(board_of_cells(said, lot.shop().units), new_stamp(lot))
    return name


def flaw_like(lot: Lot) -> str:
    """Return an example of a flaw typed into this lot."""
    return flaw_example(lot.shop().units)


def boards_list_of(lot: Lot) -> str:
    """Return all boards of a lot as a ``boards.csv``; see `boards_csv` for what it leaves out."""
    return boards_csv(lot.boards())
