"""The errand "write the parts list": a table of texts, its mistakes cell by cell, rough sizes."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from pydantic import ValidationError

from scanner.app.lot.open_lot import new_stamp, set_parts
from scanner.app.lot.part_drawings import drawing_of
from scanner.errors import PartsListError, ScannerError
from scanner.files.csv_table import csv_rows
from scanner.files.parts_list import COLUMNS as COLUMNS  # what a pasted header may name
from scanner.files.parts_list import REQUIRED, PartRow, parts_json, read_parts_text, shape_mistake
from scanner.files.rows import complaint
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.storage.lots import PartsText
from scanner.units import is_bare, is_bare_fraction, size_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from scanner.placement.parts import Part
    from scanner.storage.lots import Lot
    from scanner.storage.parts_kept import Drawings

Cells = dict[str, str]
Units = Literal["mm", "inch"]

# Shown in every table; the others where the list uses them.
SHOWN = (*REQUIRED, "species")
_NAME = "parts.csv"
_SIZES = tuple(
    column
    for column in COLUMNS
    if column.startswith(("length", "width")) or column in ("thickness", "max_knot")
)
_MOST_ROWS, _MOST_LETTERS = 500, 200


@dataclass(frozen=True, slots=True)
class Mistake:
    """What is wrong with one cell, and how to mend it."""

    row: int
    column: str
    what: str
    is_empty: bool


@dataclass(frozen=True, slots=True)
class TableReading:
    """What a table means: mistakes, the rough size of each row ("" where unknown), the count.

    The rough size of a part whose size may give goes from the least to the most.
    """

    mistakes: tuple[Mistake, ...]
    rough: tuple[str, ...]
    pieces: int


def table_of(lot: Lot) -> list[Cells]:
    """Return the parts list of a lot as the texts that were given, a row for each part.

    Raises
    ------
    PartsListError
        The list in the lot cannot be read.
    """
    kept = lot.parts_text()
    if kept is None:
        return []
    if kept.name.lower().endswith(".json"):
        # Its numbers are millimetres whatever the shop's units are.
        parts = read_parts_text(kept.text, kept.name)
        return [_cells_of(part) for part in parts]
    rows = csv_rows(kept.text, kept.name, COLUMNS, REQUIRED, PartsListError)
    read_parts_text(kept.text, kept.name, lot.shop().units)
    return [{name: str(cell) for name, cell in cells.items()} for _, cells in rows]


def columns_of(rows: Iterable[Mapping[str, str]], *, has_drawings: bool = False) -> tuple[str, ...]:
    """Return the columns a table needs: the usual ones, and those that some row fills."""
    used = {name for row in rows for name, cell in row.items() if cell}
    if has_drawings:
        used.add("shape")
    return tuple(name for name in COLUMNS if name in SHOWN or name in used)


def clean_table(given: object) -> list[Cells]:
    """Return the rows of a table that came from a browser; what is no table is left out."""
    if not isinstance(given, list):
        return []
    return [
        {
            name: str(row.get(name) or "").strip()[:_MOST_LETTERS]
            for name in COLUMNS
            if row.get(name)
        }
        for row in given[:_MOST_ROWS]
        if isinstance(row, dict)
    ]


def read_table(rows: Sequence[Cells], shop: Shop, drawings: Drawings | None = None) -> TableReading:
    """Return what a table means; rows that are empty throughout are passed over.

    ``drawings``: outlines of curved parts that are at hand.
    """
    mistakes: list[Mistake] = []
    rough: list[str] = []
    pieces = 0
    first_with: dict[str, int] = {}
    for number, row in enumerate(rows):
        found = _mistakes(number, row, shop.units) if any(row.values()) else []
        name = row.get("name", "").casefold()
        if name in first_with:
            what = f"row {first_with[name] + 1} has this name too: give each part its own"
            found.append(Mistake(number, "name", what, is_empty=False))
        elif name:
            first_with[name] = number
        part = None if found else _part(row, shop)
        if part is not None:
            found += _drawing_mistakes(number, part, drawings or {})
        mistakes += found
        rough.append("" if part is None else _rough_text(part, shop))
        pieces += 0 if part is None else part.quantity
    return TableReading(tuple(mistakes), tuple(rough), pieces)


def keep_table(lot: Lot, rows: Sequence[Cells]) -> None:
    """Keep a table as the parts list of the lot.

    Raises
    ------
    PartsListError
        The table is empty or has a mistake; nothing is kept.
    """
    filled = [row for row in rows if any(row.values())]
    if not filled:
        raise PartsListError("the table is empty", "write one row for each part")
    set_parts(lot, _csv(filled), _NAME)


def set_units(lot: Lot, units: Units) -> None:
    """Think in millimetres or inches from now on; sizes already in the list stay what they were.

    The allowances become the defaults of those units (1 in instead of 25 mm), unless they were
    set otherwise.
    """
    shop = lot.shop()
    if shop.units == units:
        return
    rows = [_with_units(row, shop.units) for row in table_of(lot)]
    other = Shop.inch() if units == "inch" else Shop()
    usual = Shop.inch() if shop.units == "inch" else Shop()
    kept = {
        name: getattr(other if getattr(shop, name) == getattr(usual, name) else shop, name)
        for name in Shop.__dataclass_fields__
    }
    if rows:
        lot.set_parts_text(PartsText(_NAME, _csv(rows)), new_stamp(lot, "page"))
    lot.set_shop(Shop(**kept | {"units": units}), new_stamp(lot, "page"))


def _mistakes(number: int, row: Mapping[str, str], units: str) -> list[Mistake]:
    filled = {name: cell for name, cell in row.items() if cell}
    # Nobody writes fractions of a millimetre: 23 1/2 of them would be a part of an inch.
    inches = [name for name in _SIZES if units == "mm" and is_bare_fraction(filled.get(name, ""))]
    found = [
        Mistake(number, name, f"write {filled[name]} in, or choose inches above", is_empty=False)
        for name in inches
    ]
    try:
        PartRow.model_validate(filled, context={"units": units}, strict=False)
    except ValidationError as problem:
        found += [
            Mistake(
                number,
                str(error["loc"][0]) if error["loc"] else "name",
                "fill this in" if error["type"] == "missing" else complaint(error),
                is_empty=error["type"] == "missing",
            )
            for error in problem.errors(include_url=False)
            if not error["loc"] or error["loc"][0] not in inches
        ]
    return found


def _drawing_mistakes(number: int, part: Part, drawings: Drawings) -> list[Mistake]:
    outline = drawing_of(part, drawings)
    if part.shape is None:
        return []
    if outline is None:
        what = f"{part.shape} is not here yet: add the drawing below"
        return [Mistake(number, "shape", what, is_empty=False)]
    found = shape_mistake(part, outline)
    return [] if found is None else [Mistake(number, found[0], found[1], is_empty=False)]


def _part(row: Cells, shop: Shop) -> Part | None:
    if not any(row.values()):
        return None
    try:
        return read_parts_text(_csv([row]), _NAME, shop.units)[0]
    except ScannerError:
        return None


def _rough_text(part: Part, shop: Shop) -> str:
    """Return a part's rough size; of one whose size may give, from the least to the most."""
    least, most = (
        size_text(*rough_size_mm(replace(part, length_mm=length, width_mm=width), shop), shop.units)
        for length, width in (
            (part.length_min_mm or part.length_mm, part.width_min_mm or part.width_mm),
            (part.length_max_mm or part.length_mm, part.width_max_mm or part.width_mm),
        )
    )
    return least if least == most else f"{least} to {most}"


def _csv(rows: Sequence[Mapping[str, str]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns_of(rows), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: cell for name, cell in row.items() if cell} for row in rows)
    return text.getvalue()


def _with_units(row: Mapping[str, str], units: str) -> Cells:
    unit = "in" if units == "inch" else "mm"
    return {
        name: f"{cell} {unit}" if name in _SIZES and is_bare(cell) else cell
        for name, cell in row.items()
    }


def _cells_of(part: Part) -> Cells:
    (record,) = json.loads(parts_json((part,)))["parts"]
    return {
        name: f"{value:g} mm" if name in _SIZES and isinstance(value, int | float) else str(value)
        for name, value in record.items()
    }
