"""The errand "tally": what the boards of a lot are and hold, in words and as ``boards.csv``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.lot.given_boards import read_given_boards
from scanner.app.lot.open_lot import parts_of
from scanner.app.placing.place_parts import known_units
from scanner.board.volume import Tally, sawn_width_mm, whole_feet
from scanner.files.boards_list import REQUIRED, boards_csv
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_given, refuse_unwritable, write_files
from scanner.lot.money import money_lines, money_of
from scanner.lot.off_board import off_board_lines
from scanner.lot.thickness_needs import thickness_lines
from scanner.lot.totals import (
    NO_PROMISE,
    board_feet_of,
    board_lines,
    board_totals,
    count_text,
    feet_text,
)
from scanner.units import inches_from_mm

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.storage.lots import Lot


def tally_boards(
    paths: tuple[Path, ...],
    table: Path | None = None,
    units: str = "mm",
    shop_file: Path | None = None,
    parts_file: Path | None = None,
    *,
    is_bundled: bool = False,
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
    parts_file
        A parts list: which of its parts need thicker wood, and what a bent board is good for.
    is_bundled
        Say each board's size as an export bundle tally has it, too.
    """
    if table is not None:
        refuse_given(table, *paths, shop_file, parts_file, ending=".csv", holds=REQUIRED)
        refuse_unwritable(table.parent)
    unit = known_units(units)
    boards, _ = read_given_boards(paths, unit)
    shop = read_shop(shop_file, unit)
    totals = board_totals(boards)
    lines = []
    for board in totals:
        first, *more = board_lines(board, units)
        lines += [first, *(f"  {line}" for line in more)]
    measure = sum(board.surface_measure for board in totals)
    lines.append(
        f"{count_text(len(totals))}, surface measure {measure}, {feet_text(board_feet_of(totals))}"
    )
    if is_bundled:
        lines += _bundle_lines(boards)
    if (money := money_of(boards, shop)) is not None:
        lines += money_lines(money)
    if parts_file is not None:
        lines += thickness_lines(boards, read_parts(parts_file, unit), shop)
    lines += [*off_board_lines(boards), NO_PROMISE]
    if table is not None:
        write_files(table.parent, {table.name: boards_csv(boards).encode()})
    return tuple(lines)


def _bundle_lines(boards: Sequence[Board]) -> list[str]:
    """Return the sizes that an export bundle's list gives, to hold a dealer's against."""
    tally = Tally()
    sizes = [
        f"{board.id} {tally.bundle_width_in(inches_from_mm(sawn_width_mm(widths)))} in"
        f" × {whole_feet(inches_from_mm(board.length.value_mm))} ft"
        for board in boards
        for widths in [[station.width.value_mm for station in board.widths]]
    ]
    return [f"as an export bundle is tallied: {', '.join(sizes)}"]


def thick_enough(lot: Lot) -> tuple[str, ...]:
    """Return which parts of a lot need thicker wood and what its bent boards are good for."""
    if lot.parts_text() is None:
        return ()
    return thickness_lines(lot.boards(), parts_of(lot), lot.shop())
