"""The errand "tally": what the boards of a lot are and hold, in words and as ``boards.csv``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.given_boards import read_given_boards
from scanner.app.place_parts import known_units
from scanner.files.boards_list import boards_csv
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.money import money_lines, money_of
from scanner.lot.totals import board_feet_of, board_lines, board_totals, count_text, feet_text

if TYPE_CHECKING:
    from pathlib import Path


def tally_boards(
    paths: tuple[Path, ...],
    table: Path | None = None,
    units: str = "mm",
    shop_file: Path | None = None,
) -> tuple[str, ...]:
    """Return a few lines for each board and one for the lot; write ``boards.csv`` if asked.

    Parameters
    ----------
    paths
        ``board.json`` files and ``boards.csv`` lists, in tally order.
    table
        Where to write the list, None for nowhere.
    shop_file
        Shop settings with prices per board foot, None for the defaults.
    """
    if table is not None:
        refuse_unwritable(table.parent)
    unit = known_units(units)
    boards, _ = read_given_boards(paths, unit)
    shop = read_shop(shop_file, unit)
    totals = board_totals(boards)
    lines = [line for board in totals for line in board_lines(board, units)]
    measure = sum(board.surface_measure for board in totals)
    lines.append(
        f"{count_text(len(totals))}, surface measure {measure}, {feet_text(board_feet_of(totals))}"
    )
    if (money := money_of(boards, shop)) is not None:
        lines += money_lines(money)
    if table is not None:
        write_files(table.parent, {table.name: boards_csv(boards).encode()})
    return tuple(lines)
