"""The errand "grade": an estimate of each board's grade, in words and as pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.lot.given_boards import read_given_boards
from scanner.app.placing.place_parts import known_units
from scanner.app.placing.plan_cuts import load_pictures
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.grade import NO_INSPECTION, GradeEstimate, estimate_grade
from scanner.lot.off_board import off_board_lines
from scanner.lot.totals import NOT_LOOKED_OVER, BoardTotals, board_totals, feet_text
from scanner.sheets.grade_picture import draw_grade
from scanner.sheets.png import png_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from scanner.storage.lots import Lot


def grade_boards(
    board_files: tuple[Path, ...],
    folder: Path | None = None,
    units: str = "mm",
    shop_file: Path | None = None,
) -> tuple[tuple[str, ...], tuple[Path, ...]]:
    """Estimate the grade of boards, tallied in the order given.

    Parameters
    ----------
    folder
        Where pictures go, None for no pictures.
    units
        Unit of bare numbers in lists, and of the pictures where no shop has another.

    Returns
    -------
    tuple
        Lines to print, and the pictures written: ``B01-grade.png`` each, none without a folder.
    """
    if folder is not None:
        refuse_unwritable(folder)
    unit = known_units(units)
    shown = read_shop(shop_file, unit).units
    boards, places = read_given_boards(board_files, unit)
    lines: list[str] = []
    files: dict[str, bytes] = {}
    for board, totals in zip(boards, board_totals(boards), strict=True):
        estimate = estimate_grade(board, totals.surface_measure)
        lines += _lines(totals, estimate)
        if folder is not None:
            found = load_pictures((board,), places)
            pictures = {face: image for (_, face), image in found.items() if image is not None}
            picture = draw_grade(board, estimate, pictures, shown)
            files[f"{board.id}-grade.png"] = png_bytes(picture)
    lines += [*off_board_lines(boards), NO_INSPECTION]
    return tuple(lines), write_files(folder, files) if folder is not None else ()


def no_inspection() -> str:
    """Return the sentence that an estimate is no inspection."""
    return NO_INSPECTION


def grade_lot(lot: Lot) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return each board of a lot with the lines of its estimate, tallied in their order."""
    boards = lot.boards()
    graded = []
    for board, totals in zip(boards, board_totals(boards), strict=True):
        estimate = estimate_grade(board, totals.surface_measure)
        graded.append((board.id, tuple(_lines(totals, estimate))))
    return tuple(graded)


def grade_png(lot: Lot, board_id: str) -> bytes:
    """Return the picture of a board's estimate: its cuttings on the photographed poor face.

    Raises
    ------
    LotError
        The lot has no such board.
    """
    board = lot.board(board_id)
    boards = lot.boards()
    totals = {row.id: row for row in board_totals(boards)}[board_id]
    estimate = estimate_grade(board, totals.surface_measure)
    found = load_pictures((board,), {board.id: lot.folder})
    pictures = {face: image for (_, face), image in found.items() if image is not None}
    return png_bytes(draw_grade(board, estimate, pictures, lot.shop().units))


def _lines(totals: BoardTotals, estimate: GradeEstimate) -> list[str]:
    state = "" if estimate.is_looked_over else f", {NOT_LOOKED_OVER}"
    lines = [
        f"{totals.id}  {estimate.grade}, surface measure {totals.surface_measure},"
        f" {feet_text(totals.board_feet)}{state}"
    ]
    lines += [f"  face {face}: {r.text}" for face, r in sorted(estimate.faces.items())]
    lines += [f"  not {reason}" for reason in estimate.reasons]
    return lines
