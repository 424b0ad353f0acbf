"""A CSV table as a person or a spreadsheet writes it: header, cells, refusals in plain words."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from typing import Any, NoReturn

from scanner.errors import ScannerError
from scanner.files.rows import nearest
from scanner.units import shortened, without_unseen

# What columns are called on the page and in other people's tables.
_ELSEWHERE = {
    **dict.fromkeys(("part", "part_name", "description"), "name"),
    **dict.fromkeys(
        ("how_many", "qty", "qty.", "qnty", "quan", "pcs", "pieces", "count", "no."), "quantity"
    ),
    "len": "length",
    **dict.fromkeys(("material", "wood"), "species"),
}
# What tells one list from the other by its header: which it is, its columns, where it belongs.
_LISTS = (
    ("a parts list", {"name", "quantity", "length"}, "before the boards"),
    ("a list of boards", {"id", "thickness", "length"}, "behind the parts list"),
)
# "length (mm)", "length [in]", "length_mm": a unit is no part of a column's name.
_WITH_UNIT = re.compile(r"_*[(\[].*[)\]]$|_(?:mm|cm|in|inch|inches)$")


def csv_rows(
    text: str,
    name: str,
    columns: Sequence[str],
    required: Sequence[str],
    error: type[ScannerError],
) -> list[tuple[int, Mapping[str, Any]]]:
    """Return the rows below the header as (row number, column to cell), empty cells left out.

    Parameters
    ----------
    text
        Cells parted by commas, semicolons or tabs; a header row first.
    name
        The file's name, for the sentences.
    columns, required
        All columns there are, and those that must be there.
    error
        What to raise where the table is wrong.
    """
    text = without_unseen(text)
    delimiter, ahead = _delimiter(text)
    # An old Mac's line ends are line ends too.
    lines = io.StringIO(text, newline=None)
    try:
        table = list(csv.reader(lines, delimiter=delimiter, strict=True))
    except csv.Error as problem:
        raise error(
            f"{name} is no proper CSV ({problem})", "look for a quote mark that is not closed"
        ) from None
    filled = [
        (n, [c.strip() for c in row]) for n, row in enumerate(table, 1) if any(map(str.strip, row))
    ][ahead:]
    if not filled:
        raise error(f"{name} is empty", f"start with a row of columns: {listed(required)}")
    header_number, raw_header = filled[0]
    while raw_header and not raw_header[-1]:
        raw_header.pop()
    header = [re.sub(r"[\s\-]+", "_", cell.lower()) for cell in raw_header]
    where = f"{name}, row {header_number}"
    _refuse_other_list(header, name, columns, error)
    _refuse_header(header, raw_header, where, columns, required, error)
    rows: list[tuple[int, Mapping[str, Any]]] = []
    for number, row in filled[1:]:
        while len(row) > len(header) and not row[-1]:
            row.pop()
        if len(row) > len(header):
            raise error(
                f"{name}, row {number} has {len(row)} cells, but the header has {len(header)}",
                "put a cell with a comma in quotes, or separate the cells with semicolons"
                if delimiter == ","
                else "take out the cells too many",
            )
        rows.append((number, {key: cell for key, cell in zip(header, row, strict=False) if cell}))
    return rows


def refuse_unknown(
    where: str,
    written: str,
    key: str,
    present: Sequence[str],
    columns: Sequence[str],
    error: type[ScannerError],
) -> NoReturn:
    """Refuse a column that is not known; name the one that was perhaps meant."""
    free = [name for name in columns if name not in present]
    bare = _WITH_UNIT.sub("", key)
    meant = _ELSEWHERE.get(bare, bare)
    near = meant if meant in free else nearest(key, free)
    mend = f"write {near}, or take it out" if near else f"the columns are {listed(columns)}"
    if meant == near and bare != key:
        mend = f"write {near}, and the unit in its cells"
    raise error(f'{where} has an unknown column "{written}"', mend)


def listed(names: Sequence[str]) -> str:
    """Return names in a row."""
    return ", ".join(names)


def _delimiter(text: str) -> tuple[str, int]:
    """Return what parts the cells, and how many lines say that before the header."""
    header = next((line for line in text.splitlines() if line.strip()), "")
    # A spreadsheet's own first line: "sep=;".
    told = re.fullmatch(r"\s*sep=([,;\t])\s*", header, re.IGNORECASE)
    if told:
        return told.group(1), 1
    # What is pasted from a spreadsheet has tabs.
    return max((",", ";", "\t"), key=header.count), 0


def _refuse_other_list(
    header: Sequence[str], name: str, columns: Sequence[str], error: type[ScannerError]
) -> None:
    """Refuse the other list by what it is: both are CSV, and a command takes them in a row."""
    mine = next((kind for kind in _LISTS if kind[1] <= set(columns)), None)
    if mine is None or mine[1] <= set(header):
        return
    for other, marks, _ in _LISTS:
        if marks <= set(header):
            raise error(
                f"{name} is {other}",
                f"give {mine[0]} here (in a command it stands {mine[2]})",
            )


def _refuse_header(
    header: Sequence[str],
    raw: Sequence[str],
    where: str,
    columns: Sequence[str],
    required: Sequence[str],
    error: type[ScannerError],
) -> None:
    if not set(header) & set(columns):
        # A title, a remark, a table parted by other signs, no table at all.
        first = shortened(next(cell for cell in raw if cell))
        mend = f"begin with a row of columns: {listed(required)}"
        raise error(f'{where} ("{first}") names no column', mend)
    for key, written in zip(header, raw, strict=True):
        if not key:
            raise error(f"{where} has a column without a name", "name it or take it out")
        if key not in columns:
            refuse_unknown(where, written, key, header, columns, error)
        if header.count(key) > 1:
            raise error(f"{where} has the column {key} twice", "take one of them out")
    missing = [name for name in required if name not in header]
    if missing:
        word = "column" if len(missing) == 1 else "columns"
        raise error(f"{where} lacks the {word} {listed(missing)}", f"add the {word}")
