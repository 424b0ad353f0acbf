"""The errand "make the story stick": full-size paper tapes with a board's cuts and labels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from scanner.app.lot.given_boards import read_given_boards
from scanner.app.placing.given_layout import refuse_other_boards
from scanner.app.placing.place_parts import known_units
from scanner.app.scanning.make_strip import known_paper
from scanner.errors import PlacementError
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.typed import read_size
from scanner.files.write import refuse_given, refuse_unwritable, write_files
from scanner.lot.totals import NOT_LOOKED_OVER
from scanner.sheets.stick_pages import stick_pages
from scanner.sheets.story_stick import story_stick
from scanner.sheets.strip import shapes_pdf
from scanner.sheets.words import by_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
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
        Which of the boards; None for all that the layout cuts, in one PDF.

    Raises
    ------
    PlacementError
        The layout has no cut on the boards, or other boards were given.
    """
    refuse_given(path, layout_file, parts_file, *board_files, ending=".pdf")
    refuse_unwritable(path.parent)
    unit = known_units(units)
    layout, parts = read_layout(layout_file), read_parts(parts_file, unit)
    boards, _ = read_given_boards(board_files, unit)
    cut = _boards_cut(layout, boards, board_id)
    refuse_other_boards(layout, cut, parts)
    along = read_size(measured, "--measured") if measured else None
    size, known = known_paper(paper), by_name(parts)
    made = {
        board.id: stick_of(layout, board, known, size, units=unit, measured_mm=along)
        for board in cut
    }
    pages = tuple(page for _, several in made.values() for page in several)
    write_files(path.parent, {path.name: shapes_pdf(pages, sticks_title(cut))})
    count = len(pages)
    word, boards_word = ("page" if count == 1 else "pages"), "board" if len(cut) == 1 else "boards"
    edges = [
        f"Lay {board} along the {stick.edge.name} edge of face 1"
        for board, (stick, _) in made.items()
    ]
    return (
        f"written: {path}, {count} {word} for {boards_word} {', '.join(made)}",
        CHECK_FIRST,
        *(f"{edge}, zero on the corner at end A." for edge in edges),
        "Copy the lines; a cross marks the side that the saw takes.",
        *_not_looked_over(cut),
    )


def _not_looked_over(boards: Sequence[Board]) -> tuple[str, ...]:
    """Return a line that names the boards that nobody has looked over, if there are such."""
    named = ", ".join(board.id for board in boards if not board.is_looked_over)
    return (f"{NOT_LOOKED_OVER}: {named}. Look at both faces before you cut.",) if named else ()


def sticks_title(boards: Sequence[Board]) -> str:
    """Return the title of a PDF with the story sticks of these boards."""
    word = "story stick" if len(boards) == 1 else "story sticks"
    return f"{word} {', '.join(board.id for board in boards)}"


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


def _boards_cut(
    layout: Layout, boards: tuple[Board, ...], board_id: str | None
) -> tuple[Board, ...]:
    """Return the board that was asked for, or all that are cut."""
    cut = {line.board for line in layout.cuts}
    named = tuple(board for board in boards if board.id in cut and board_id in (None, board.id))
    if not named:
        raise PlacementError(
            f"the layout has no cut on {board_id or 'the boards given'}",
            f"name a board that it cuts: {', '.join(sorted(cut)) or 'it cuts none'}",
        )
    return named
