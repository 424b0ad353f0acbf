"""What was asked of a dry fit by hand goes into the layout, from files: swapped, flipped, slid.

The files become a lot that lasts as long as the errand, so that the command line refuses and places
again exactly as the page does.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

from scanner.app.fitting.dry_fit import STEPS_PER_BOARD
from scanner.app.fitting.fit_by_hand import flip, slide, swap, turn
from scanner.app.fitting.fit_in_lot import group_in, notes_of
from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import new_stamp, open_lot, set_parts, take_board
from scanner.app.lot.part_drawings import drawings_beside
from scanner.app.placing.place_again import plan_lot
from scanner.files.rows import TABLE_ENCODING, read_text
from scanner.placement.layout import SAWN_OUT
from scanner.placement.stop import Work
from scanner.storage.ticks import Ticks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.app.placing.given_layout import Given
    from scanner.board.assembly import FitNotes
    from scanner.placement.layout import Layout
    from scanner.storage.lots import Lot


def laid_into_layout(
    given: Given,
    parts_file: Path,
    title: str,
    *,
    order: Sequence[int] = (),
    flips: Sequence[int] = (),
    turns: Sequence[int] = (),
    slides: Sequence[tuple[int, str]] = (),
    units: Literal["mm", "inch"] = "mm",
) -> tuple[Layout, FitNotes]:
    """Return the layout with a group's pieces cut as was asked, and how they are to be laid.

    Pieces are indices into the group as it lay before, from 0.

    Parameters
    ----------
    order
        For each new place the piece that goes there; () as they lie.
    slides
        Piece and how far towards end B, as typed; a minus goes towards end A.
    units
        What bare numbers of the list and of slides are in, whatever the shop counts in.

    Raises
    ------
    ScannerError
        A piece is cut already or cannot be cut there; the sentence says what is in the way.
    """
    with TemporaryDirectory() as folder:
        lot = open_lot(Path(folder) / "fit.lot")
        try:
            _fill(lot, given, parts_file, units)
            count = len(group_in(lot, title)[1].members)
            now = list(range(count))
            for place, piece in enumerate(order):
                at = now.index(piece)
                if at != place:
                    swap(lot, title, place + 1, at + 1)
                    now[place], now[at] = now[at], now[place]
            for piece in flips:
                flip(lot, title, now.index(piece) + 1)
            for piece in turns:
                turn(lot, title, now.index(piece) + 1)
            for piece, typed in slides:
                slide(lot, title, now.index(piece) + 1, typed)
            # The rest goes round what was moved: as long as a search for a better match.
            plan_lot(lot, Work(STEPS_PER_BOARD * len(given.boards)))
            return newest_layout(lot).layout, notes_of(lot)
        finally:
            lot.close()


def _fill(lot: Lot, given: Given, parts_file: Path, units: Literal["mm", "inch"]) -> None:
    lot.set_shop(replace(given.shop, units=units), new_stamp(lot))
    for board in given.boards:
        take_board(lot, board, given.folders[board.id], {})
    text = read_text(parts_file, fallback_encoding=TABLE_ENCODING)
    set_parts(lot, text, parts_file.name, drawings_beside(parts_file, units))
    fixed = tuple(p for p in given.layout.placements if p.locked or p.state in SAWN_OUT)
    if fixed or given.spoiled:
        lot.tick(new_stamp(lot), "as given", lambda ticks, layouts: Ticks(fixed, given.spoiled))
    lot.save_layout(given.layout, lot.revision)
