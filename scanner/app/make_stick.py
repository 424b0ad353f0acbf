"""The errand "make the story stick": a full-size paper tape with one board's cuts and labels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from scanner.app.given_boards import read_given_boards
from scanner.app.make_strip import known_paper
from scanner.app.place_parts import known_units
from scanner.errors import PlacementError
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.typed import read_size
from scanner.files.write import refuse_given
from scanner.sheets.stick_pages import stick_pages
from scanner.sheets.story_stick import story_stick
from scanner.sheets.strip import write_pages
from scanner.sheets.words import by_name

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Layout
    from scanner.placement.parts import Part
    from scanner.sheets.story_stick import StoryStick
    from scanner.sheets.strip_shapes import Page

CHECK_FIRST = (
    "Print at 100 %, never fit to page, and measure the 250.0 mm from joint line to joint line with"
    " a steel rule before you use it; if it is off, print again with --measured."
)


def make_stick(
    layout_file: Path,
    board_files: tuple[Path, ...],
    parts_file: Path,
    path: Path,
    *,
    paper: str = "a4",
    units: str = "mm",
    measured: str | None = None,
    board_id: str | None = None,
) -> tuple[str, ...]:
    """Write the PDF and return what to do with it, a line each.

    Parameters
    ----------
    board_id
        Which of the boards; None where the layout cuts only one of those given.

    Raises
    ------
    PlacementError
        The layout has no cut on that board, or cuts several and none was named.
    """
    refuse_given(path, layout_file, parts_file, *board_files)
    unit = known_units(units)
    layout, parts = read_layout(layout_file), read_parts(parts_file, unit)
    boards, _ = read_given_boards(board_files, unit)
    board = _board_of(layout, boards, board_id)
    along = read_size(measured, "--measured") if measured else None
    stick, pages = stick_of(
        layout, board, by_name(parts), known_paper(paper), units=units, measured_mm=along
    )
    count = write_pages(path, pages, f"story stick {board.id}")
    return (
        f"written: {path}, {count} pages for board {board.id}",
        CHECK_FIRST,
        f"Lay it along the {stick.edge.name} edge of face 1, zero on the corner at end A, and copy"
        " the lines; a cross marks the side that the saw takes.",
    )


def stick_of(
    layout: Layout,
    board: Board,
    parts: Mapping[str, Part],
    paper: Literal["a4", "letter"],
    *,
    units: str,
    measured_mm: float | None,
) -> tuple[StoryStick, tuple[Page, ...]]:
    """Return a board's story stick and its pages, for the command and the page alike.

    Parameters
    ----------
    measured_mm
        What the 250.0 mm between the joint lines of a former print really measure.
    """
    stick = story_stick(layout, board, parts, units)
    return stick, stick_pages(stick, paper, measured_mm)


def _board_of(layout: Layout, boards: tuple[Board, ...], board_id: str | None) -> Board:
    """Return the board that was asked for, or the only one that is cut."""
    cut = {line.board for line in layout.cuts}
    named = [board for board in boards if board.id in cut and board_id in (None, board.id)]
    if not named:
        raise PlacementError(
            f"the layout has no cut on {board_id or 'the boards given'}",
            f"name a board that it cuts: {', '.join(sorted(cut)) or 'it cuts none'}",
        )
    if len(named) > 1:
        raise PlacementError(
            f"the layout cuts {', '.join(board.id for board in named)}",
            "say with --board which one to mark",
        )
    return named[0]
