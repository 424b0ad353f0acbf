"""The errand "which one change saves a board?": change one thing, lay out again, measure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import new_stamp
from scanner.app.placing.follow_grain import with_grain
from scanner.app.placing.given_layout import read_given
from scanner.app.placing.spoiled_wood import with_spoiled
from scanner.files.json_text import json_text
from scanner.files.layout_file import layout_json
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.savings import find_savings, gain_words
from scanner.lot.totals import unseen_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.lot.savings import Search
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json

NOTE = "savings"
TRIALS = 40
# Enough for one board to be laid out anew a few times; every trial has the same.
_STEPS_PER_BOARD = 4


def savings_from_files(
    layout_file: Path,
    parts_file: Path,
    board_files: tuple[Path, ...],
    folder: Path | None = None,
    *,
    trials: int = TRIALS,
    shop_file: Path | None = None,
    units: str = "mm",
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[str, ...]:
    """Return the savings in sentences; write ``savings.json`` and the layout of each to a folder.

    Raises
    ------
    ScannerError
        A file cannot be read, or the layout does not belong to boards and parts.
    """
    if folder is not None:
        refuse_unwritable(folder)
    given = read_given(layout_file, parts_file, board_files, shop_file, units)
    boards = with_grain(
        given.boards,
        given.parts,
        lambda board, face: (
            given.folders[board.id] / name if (name := board.faces[face].picture) else None
        ),
    )
    search = search_savings(
        given.layout,
        boards,
        given.parts,
        given.shop,
        trials,
        lambda share: progress("trying", share),
    )
    unseen = _unseen(boards, given.layout, search)
    if folder is not None:
        files = {"savings.json": savings_json(search, unseen)}
        for number, saving in enumerate(search.savings, 1):
            layout = with_spoiled(saving.layout, given.spoiled)
            files[f"saving-{number}-layout.json"] = layout_json(layout).encode()
        write_files(folder, files)
    return saving_lines(search, unseen)


def search_savings(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    trials: int,
    progress: Callable[[float], None] = lambda share: None,
) -> Search:
    """Return the cheapest changes; every trial searches as long."""
    steps = _STEPS_PER_BOARD * max(1, len(boards))
    return find_savings(layout, boards, parts, shop, steps=steps, trials=trials, progress=progress)


def saving_lines(search: Search, unseen: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the savings in sentences, what was not tried and which boards are ``unseen``."""
    said = []
    if search.same_list is not None:
        said.append(
            f"Laying the parts out again, without any change, {gain_words(search.same_list)}: do "
            "that first."
        )
    for number, saving in enumerate(search.savings, 1):
        said.append(f"{number}. {saving.change.words}: {gain_words(saving.gain)}")
    if not search.savings:
        said.append("No single change was found that saves a board or places a missing part.")
    said.append(
        f"{search.tried} layouts were tried"
        + ("." if search.is_complete else "; there are changes that were not.")
        + " Nothing is changed: write in the parts list what you want, and place the parts again."
    )
    return (*said, *unseen_lines(unseen))


def _unseen(boards: Iterable[Board], layout: Layout, search: Search) -> list[str]:
    """Return which boards that nobody has looked over a layout and its savings lie on."""
    layouts = (layout, *(one.layout for one in search.savings))
    opened = {p.board for one in layouts for p in one.placements}
    return [one.id for one in boards if one.id in opened and not one.is_looked_over]


def savings_json(search: Search, not_looked_over: Sequence[str] = ()) -> bytes:
    """Return the savings, and the boards not looked over, as JSON."""
    rows = [
        {
            "part": saving.change.part.name,
            "change": saving.change.words,
            "parts_more": saving.gain.placed,
            "spares_more": saving.gain.spares,
            "boards_saved": saving.gain.boards,
            "area_saved": round(saving.gain.area_mm2),
            "board_feet_saved": round(saving.gain.board_feet, 2),
        }
        for saving in search.savings
    ]
    return json_text(
        {"format": "savings", "version": 1, "tried": search.tried,
         "complete": search.is_complete, "savings": rows,
         "not_looked_over": list(not_looked_over)}
    ).encode()  # fmt: skip


def look_for_savings(lot: Lot, progress: Callable[[str, float], None]) -> None:
    """Look for the savings of a lot's layout and note them beside it.

    Raises
    ------
    ScannerError
        There is no layout, or no parts list, or a part that is to stay may not lie where it lies.
    """
    from scanner.app.placing.place_again import task_of

    saved = newest_layout(lot)
    revision = lot.revision
    # What is cut stays in its place, and wood that was spoiled is no wood any more.
    task = task_of(lot, asked_parts(lot))
    search = search_savings(
        saved.layout, task.boards, task.parts, task.shop, TRIALS,
        lambda share: progress("trying one change at a time", share),
    )  # fmt: skip
    unseen = _unseen(task.boards, saved.layout, search)
    note: Json = {"revision": revision, "lines": list(saving_lines(search, unseen))}
    lot.set_note(NOTE, note, new_stamp(lot), "looked for savings")


def kept_savings(lot: Lot) -> tuple[str, ...]:
    """Return what was found for the lot as it is now; nothing where anything was done since."""
    note = lot.note(NOTE)
    if not isinstance(note, dict):
        return ()
    lines, revision = note.get("lines"), note.get("revision")
    # The note itself is one action more.
    is_new = isinstance(revision, int) and lot.revision == revision + 1
    return tuple(str(line) for line in lines) if is_new and isinstance(lines, list) else ()
