"""Small tables on a sheet."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scanner.sheets.drawing import GREY, INK, PALE, Anchor, Sketch
from scanner.sheets.fonts import shortened, text_width

ROW_STEP = 1.42


@dataclass(frozen=True, slots=True)
class Column:
    """One column: heading, where its text is anchored, weight, width on the page.

    ``gives``: this column is cut short first where a table is too wide.
    """

    heading: str
    anchor: Anchor = "start"
    bold: bool = False
    width: float = 0.0
    gives: bool = False


def rows_that_fit(height: float, size: float) -> int:
    """Return how many rows fit under the heading row."""
    return max(0, int(height / (ROW_STEP * size) - 1.15))


def fitted_columns(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], size: float
) -> list[Column]:
    """Return the columns as wide as their texts need."""
    fitted = []
    for number, column in enumerate(columns):
        texts = [text_width(row[number], size, bold=column.bold) for row in rows]
        texts.append(text_width(column.heading, 0.85 * size))
        fitted.append(replace(column, width=max(texts) + 0.9 * size))
    return fitted


def width_of(columns: Sequence[Column]) -> float:
    """Return the width of a table."""
    return sum(column.width for column in columns)


def stretched(columns: Sequence[Column], by: float) -> list[Column]:
    """Return the columns with the one that gives made wider (or narrower) by so much."""
    return [replace(c, width=max(20.0, c.width + by)) if c.gives else c for c in columns]


def draw_table(
    sketch: Sketch,
    x: float,
    y: float,
    columns: Sequence[Column],
    rows: Sequence[Sequence[str]],
    size: float,
) -> float:
    """Draw headings and rows from the top y down; return the y below the last row."""
    step = ROW_STEP * size
    wide = width_of(columns)
    _write(sketch, x, y + size, columns, [c.heading for c in columns], 0.85 * size, heading=True)
    y += 1.15 * step
    sketch.line([(x, y), (x + wide, y)], 0.8, INK)
    for number, row in enumerate(rows):
        if number % 2:
            sketch.box(x, y, wide, step, PALE)
        _write(sketch, x, y + 1.06 * size, columns, row, size)
        y += step
    return y


def _write(
    sketch: Sketch,
    x: float,
    y: float,
    columns: Sequence[Column],
    cells: Sequence[str],
    size: float,
    *,
    heading: bool = False,
) -> None:
    for column, cell in zip(columns, cells, strict=True):
        room = column.width - 0.5 * size
        bold = column.bold and not heading
        text = shortened(cell, room, size, bold=bold)
        at = {"start": x + 2.0, "middle": x + column.width / 2, "end": x + column.width - 4.0}
        sketch.text(
            at[column.anchor], y, text, size, bold=bold, anchor=column.anchor,
            color=GREY if heading else INK,
        )  # fmt: skip
        x += column.width
