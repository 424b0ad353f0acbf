"""The tables on a board map: cut list and parts."""

from collections.abc import Sequence
from typing import TypeVar

from scanner.placement.layout import Placement
from scanner.placement.turned import nest_blank
from scanner.sheets.content import MapContent
from scanner.sheets.cut_list import CutRow
from scanner.sheets.drawing import Sketch, Text
from scanner.sheets.paper import MARGIN
from scanner.sheets.table import (
    Column,
    draw_table,
    fitted_columns,
    rows_that_fit,
    stretched,
    width_of,
)
from scanner.sheets.words import finished_text, nest_of, part_title, unit_name
from scanner.units import size_text

T = TypeVar("T")

_SIZES = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
_LEAST_ROWS = 4
_GIVES = 34.0
# Between tables.
_GAP = 14.0


def is_room(height: float) -> bool:
    """Return whether tables of so little height are worth beginning."""
    return rows_that_fit(height, _SIZES[-1]) >= _LEAST_ROWS


def tables_fit(content: MapContent, wide: float, height: float, *, whole: bool = False) -> bool:
    """Return whether all cuts and parts fit into so much room; ``whole``: and no text cut short."""
    if not is_room(height):
        return False
    blank = Sketch(wide + 2 * MARGIN, height)
    left = draw_tables(blank, content, 0.0, height, content.cuts, content.placements)
    short = any(isinstance(shape, Text) and shape.text.endswith("…") for shape in blank.shapes)
    return not any(left) and not (whole and short)


def draw_tables(
    sketch: Sketch,
    content: MapContent,
    top: float,
    bottom: float,
    cuts: tuple[CutRow, ...],
    parts: tuple[Placement, ...],
) -> tuple[tuple[CutRow, ...], tuple[Placement, ...]]:
    """Draw cut list and parts side by side; return what found no room.

    Where the cuts run on the parts give way: the faces above name them with their sizes.
    """
    wide = sketch.width - 2 * MARGIN
    minds = any(row.mind for row in cuts)
    cut_cells, part_cells = _cut_cells(cuts, minds), [_part_cells(p, content) for p in parts]
    headed = _part_headings(content.units)
    if not any(row[-1] for row in part_cells):
        headed, part_cells = headed[:-1], [row[:-1] for row in part_cells]
    # Finished sizes are the first to go where room is short: at the saw the rough ones count.
    choices = [(size, True) for size in _SIZES] + [(size, False) for size in _SIZES[-3:]]
    for size, finished in choices:
        rows = rows_that_fit(bottom - top, size)
        columns = 1 if len(cuts) <= rows else 2
        cut_columns = fitted_columns(_cut_headings(content.units, minds), cut_cells, size)
        shown = part_cells if finished else [_without_finished(row) for row in part_cells]
        headings = headed if finished else _without_finished(headed)
        part_columns = fitted_columns(headings, shown, size)
        cuts_wide = columns * (width_of(cut_columns) + _GAP)
        parts_wide = width_of(part_columns) if parts else 0.0
        all_in = len(parts) <= rows and len(cuts) <= columns * rows
        # Before finished sizes go, what a cut makes may be cut short a little.
        give = columns * _GIVES if size == _SIZES[-1] and finished else 0.0
        if all_in and cuts_wide + parts_wide <= wide + give:
            break
    else:
        if cuts and parts and not all_in:
            # There is a next page anyway, and what a cut makes is no help cut short.
            return draw_tables(sketch, content, top, bottom, cuts, ())[0], parts
    # The smallest type and still too wide: the widest column gives way.
    spare = (wide - parts_wide - columns * _GAP) / columns - width_of(cut_columns)
    cut_columns = stretched(cut_columns, min(spare, 0.0))
    rows = max(rows, 1)
    # Even columns read better than a full one and a stub.
    per_column = rows if columns == 1 else min(rows, -(-len(cuts) // 2))
    x = MARGIN
    for number in range(columns):
        batch = cut_cells[number * per_column : (number + 1) * per_column]
        if batch:
            draw_table(sketch, x, top, cut_columns, batch, size)
            x += width_of(cut_columns) + _GAP
    if part_cells:
        left = max(x, sketch.width - MARGIN - parts_wide)
        draw_table(sketch, left, top, part_columns, shown[:rows], size)
    return cuts[columns * per_column :], parts[rows:]


def _cut_headings(units: str, minds: bool) -> list[Column]:
    headings = [
        Column("cut", anchor="end", bold=True),
        Column("kind"),
        Column(f"at, {unit_name(units)}", anchor="end", bold=True),
        Column("piece", anchor="middle"),
        Column("makes", gives=True),
    ]
    return [*headings, Column("mind")] if minds else headings


def _cut_cells(rows: Sequence[CutRow], minds: bool) -> list[list[str]]:
    cells = [[row.number, row.kind, row.at, row.piece, row.text] for row in rows]
    if not minds:
        return cells
    return [[*cell, row.mind] for cell, row in zip(cells, rows, strict=True)]


def _part_headings(units: str) -> list[Column]:
    return [
        Column("part", bold=True, gives=True),
        Column(f"rough, {unit_name(units)}"),
        Column("finished"),
        Column("show face"),
    ]


def _without_finished(row: list[T]) -> list[T]:
    return [*row[:2], *row[3:]]


def _part_cells(placement: Placement, content: MapContent) -> list[str]:
    units = content.units
    show = "" if placement.show_face is None else f"face {placement.show_face}"
    nest = nest_of(placement, content.placements)
    blank = nest_blank(placement, nest)
    rough = size_text(blank.length_mm, blank.width_mm, units)
    if len(nest) > 1:
        rough = f"nest {rough}"
    finished = finished_text(placement, content.parts, units)
    unit = f" {unit_name(units)}"
    return [
        part_title(placement, content.parts),
        rough.removesuffix(unit),
        finished.removesuffix(unit),
        show,
    ]
