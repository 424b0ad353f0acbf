"""The tables on a board map: cut list and parts, and the notes on saws beside them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self, TypeVar

from scanner.placement.layout import SAWN_OUT, Placement
from scanner.placement.wanted.turned import nest_blank
from scanner.sheets.content import MapContent
from scanner.sheets.cut_list import CutRow
from scanner.sheets.drawing import Sketch
from scanner.sheets.fonts import wrapped
from scanner.sheets.table import (
    ROW_STEP,
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

_SIZES = (13.0, 12.0, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
SMALLEST = _SIZES[-1]
_LEAST_ROWS = 4
# Between tables, and the least width in which notes are easily read.
_GAP, _NOTES_WIDE = 18.0, 160.0
# Between a table and the notes under it.
_UNDER = 6.0
_NOTE_SIZES = (8.5, 10.5)
_NOTE_STEP = 1.3
# Most columns of cuts beside each other.
_ACROSS = 3


@dataclass(frozen=True, slots=True)
class Listed:
    """What the tables of one page tell.

    ``notes``: which saw suits which cut and what the words beside the cuts mean, a text each.
    """

    cuts: tuple[CutRow, ...]
    parts: tuple[Placement, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Room:
    """A rectangle of a page, points."""

    x: float
    y: float
    wide: float
    high: float

    def under(self, taken: float, apart: float = _UNDER) -> Self:
        """Return what is left under something so high."""
        used = taken + apart if taken else 0.0
        return replace(self, y=self.y + used, high=max(self.high - used, 0.0))


@dataclass(frozen=True, slots=True)
class _Table:
    """A table in one type size: its columns, and the cells of its rows."""

    columns: list[Column]
    cells: list[list[str]]
    size: float

    @property
    def wide(self) -> float:
        return width_of(self.columns)

    def high(self, rows: int | None = None) -> float:
        """Return how high so many rows stand, or all; nothing where there are none."""
        rows = len(self.cells) if rows is None else rows
        return ROW_STEP * self.size * (rows + 1.15) if rows else 0.0


def draw_listed(
    sketch: Sketch,
    content: MapContent,
    listed: Listed,
    below: Room,
    beside: Room | None,
    least: float,
) -> bool:
    """Draw all that is listed in the largest type that fits; draw nothing where none does.

    Cuts stand in one column or several, then the parts, the notes under the parts or, where there
    is more room, under both.

    Parameters
    ----------
    below
        The room under the faces.
    beside
        Room beside the faces: parts and notes stand there, where it is given.
    least
        Smallest type.

    Returns
    -------
    bool
        Whether all of it was drawn, no text cut short.
    """
    for size in (size for size in _SIZES if size >= least):
        # Finished sizes are the first to go where room is short: at the saw the rough ones count.
        parts = [
            _parts_table(listed.parts, content, small, finished=finished)
            for small, finished in (*((small, True) for small in _SIZES), (SMALLEST, False))
            # No larger than the cuts, which are what is read at the saw.
            if small <= size
        ]
        cuts = _cuts_table(listed.cuts, content, size)
        if _is_drawn(sketch, listed.notes, cuts, parts, below, beside):
            return True
    return False


def _is_drawn(
    sketch: Sketch,
    notes: tuple[str, ...],
    cuts: _Table,
    parts: Sequence[_Table],
    below: Room,
    beside: Room | None,
) -> bool:
    """Draw the cuts and the largest of the same parts' tables in the first way that has room."""
    rows = len(cuts.cells)
    for across in range(1, _ACROSS + 1):
        each = -(-rows // across)
        taken = across * (cuts.wide + _GAP) if rows else 0.0
        high = cuts.high(each)
        if rows and (high > below.high or taken - _GAP > below.wide):
            continue
        right = Room(below.x + taken, below.y, below.wide - taken, below.high)
        column = beside or right
        for table in parts:
            tall = table.high()
            if table.wide > column.wide or tall > column.high:
                continue
            deep = high if beside else max(high, tall)
            rooms = [column.under(tall), below.under(deep)]
            if beside:
                rooms.insert(1, Room(right.x, right.y, right.wide, deep))
            else:
                rooms[0] = replace(rooms[0], high=max(deep - tall - _UNDER, 0.0))
            # Under the parts alone they may reach down further than the cuts.
            ways = (rooms,) if beside else (rooms, [column.under(tall)])
            if not any(_write_notes(sketch, notes, way, cuts.size) for way in ways):
                continue
            if table.cells:
                draw_table(sketch, column.x, column.y, table.columns, table.cells, table.size)
            for number in range(across if rows else 0):
                batch = cuts.cells[number * each : (number + 1) * each]
                x = below.x + number * (cuts.wide + _GAP)
                draw_table(sketch, x, below.y, cuts.columns, batch, cuts.size)
            return True
    return False


def _write_notes(
    sketch: Sketch, notes: tuple[str, ...], rooms: Sequence[Room], largest: float
) -> bool:
    """Write each note into the first of the rooms that still holds it, in the largest type."""
    size = min(_NOTE_SIZES[1], max(_NOTE_SIZES[0], largest))
    while size >= _NOTE_SIZES[0]:
        step, apart = _NOTE_STEP * size, 0.25 * size
        places: list[tuple[float, float, str]] = []
        free = [room for room in rooms if room.wide >= _NOTES_WIDE]
        for text in notes:
            for number, room in enumerate(free):
                lines = wrapped(text, room.wide, size)
                if step * len(lines) <= room.high:
                    places += [
                        (room.x, room.y + size + step * k, line) for k, line in enumerate(lines)
                    ]
                    free[number] = room.under(step * len(lines) + apart, 0.0)
                    break
            else:
                break
        else:
            for x, y, line in places:
                sketch.text(x, y, line, size)
            return True
        size -= 0.5
    return False


def _write_lines(
    sketch: Sketch, notes: tuple[str, ...], room: Room, size: float
) -> tuple[str, ...]:
    """Write as many lines of the notes as fit; return the lines that are left."""
    lines = [line for text in notes for line in wrapped(text, room.wide, size)]
    step = _NOTE_STEP * size
    fit = int(room.high / step)
    for k, line in enumerate(lines[:fit]):
        sketch.text(room.x, room.y + size + step * k, line, size)
    return tuple(lines[fit:])


def draw_what_fits(sketch: Sketch, content: MapContent, listed: Listed, room: Room) -> Listed:
    """Draw as many cuts as fit, else as many parts, else lines of notes; return what is left.

    Raises
    ------
    ValueError
        The room is too low for anything.
    """
    size = 9.0
    rows = rows_that_fit(room.high, size)
    if rows < _LEAST_ROWS:
        raise ValueError(f"no room for tables in {room.high:.0f} points")
    if not (listed.cuts or listed.parts):
        return Listed((), (), _write_lines(sketch, listed.notes, room, size))
    if listed.cuts:
        table = _cuts_table(listed.cuts, content, size)
        across = max(1, min(_ACROSS, int((room.wide + _GAP) / (table.wide + _GAP))))
        columns = stretched(table.columns, min(room.wide - table.wide, 0.0))
        for number in range(across):
            batch = table.cells[number * rows : (number + 1) * rows]
            if batch:
                x = room.x + number * (table.wide + _GAP)
                draw_table(sketch, x, room.y, columns, batch, size)
        return Listed(listed.cuts[across * rows :], listed.parts, listed.notes)
    table = _parts_table(listed.parts, content, size, finished=True)
    columns = stretched(table.columns, min(room.wide - table.wide, 0.0))
    draw_table(sketch, room.x, room.y, columns, table.cells[:rows], size)
    return Listed((), listed.parts[rows:], listed.notes)


def _cuts_table(cuts: Sequence[CutRow], content: MapContent, size: float) -> _Table:
    cells = [[row.number, row.kind, row.at, row.piece, row.text, row.mind] for row in cuts]
    headings = [
        Column("cut", anchor="end", bold=True),
        Column("kind"),
        Column(f"at, {unit_name(content.units)}", anchor="end", bold=True),
        Column("piece", anchor="middle"),
        Column("makes", gives=True),
        Column("mind"),
    ]
    if not any(row.mind for row in cuts):
        headings, cells = headings[:-1], [row[:-1] for row in cells]
    return _Table(fitted_columns(headings, cells, size), cells, size)


def _parts_table(
    parts: Sequence[Placement], content: MapContent, size: float, *, finished: bool
) -> _Table:
    cells = [_part_cells(p, content) for p in parts]
    headings = [
        Column("part", bold=True, gives=True),
        Column(f"rough, {unit_name(content.units)}"),
        Column("finished"),
        Column("show face"),
    ]
    if not any(row[-1] for row in cells):
        headings, cells = headings[:-1], [row[:-1] for row in cells]
    if not finished:
        headings, cells = _without_finished(headings), [_without_finished(row) for row in cells]
    return _Table(fitted_columns(headings, cells, size) if cells else [], cells, size)


def _without_finished(row: list[T]) -> list[T]:
    return [*row[:2], *row[3:]]


def _part_cells(placement: Placement, content: MapContent) -> list[str]:
    units = content.units
    show = "" if placement.show_face is None else f"face {placement.show_face}"
    if show and placement.layer is not None:
        show = "sawn"
    nest = nest_of(placement, content.placements)
    blank = nest_blank(placement, nest)
    rough = size_text(blank.length_mm, blank.width_mm, units)
    if len(nest) > 1:
        rough = f"nest {rough}"
    finished = finished_text(placement, content.parts, units)
    unit = f" {unit_name(units)}"
    title = part_title(placement, content.parts)
    return [
        f"{title} ({placement.state})" if placement.state in SAWN_OUT else title,
        rough.removesuffix(unit),
        finished.removesuffix(unit),
        show,
    ]
