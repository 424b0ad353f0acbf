"""Boards without photographs: ``boards.csv`` in and out, for who has no phone at the wood pile.

A row is a board with straight edges; flaws are rectangles measured from end A, and from the upper
edge of face 1 as it lies with end A to the left: ``knot both 12 to 14 by 2 to 3 1/2 sound``.
Several are parted by ``|``, as are the names in ``only_parts``. What is written out of a scanned
board keeps the size of its flaws, not their shape.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationError, ValidationInfo
from shapely.geometry import box

from scanner.board.board import Board, End, Face, Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES
from scanner.board.volume import (
    CALIPER_U_MM,
    LONGEST_MM,
    NARROWEST_MM,
    SHORTEST_MM,
    THICKEST_MM,
    THINNEST_MM,
    WIDEST_MM,
    is_measured,
    quarters_of,
    sawn_width_mm,
    thickness_of_class,
)
from scanner.errors import BoardError
from scanner.files.board_rows import BoardId, file_key
from scanner.files.cells import Allowance, Flag, Price, read_size, whole_mm
from scanner.files.csv_table import csv_rows
from scanner.files.rows import TABLE_ENCODING, Row, complaint, read_text
from scanner.units import LengthError, length_text, read_length_mm, read_quarters, shortened

# More than a truckload: the file is none of a shop's.
MAX_BOARDS = 2_000
# A careful person's tape or rule, read to the nearest sixteenth.
_TAPED_U_MM = 1.5
_FLAW = re.compile(
    r"(?P<kind>[a-z_ ]+?) (?P<faces>1|2|both) (?P<x0>.+?) to (?P<x1>.+?)"
    r" by (?P<y0>.+?) to (?P<y1>.+?)(?P<sound> sound| unsound)?"
)
# A list is written to the tenth.
_FINEST_MM = 0.1
_FLAW_LIKE = {
    "inch": "knot both 12 to 14 by 2 to 3",
    "mm": "knot both 300 to 350 by 50 to 75",
}


def _thickness(value: object, info: ValidationInfo) -> Measured:
    """Return a board's thickness: a class as 4/4, or as measured."""
    quarters = read_quarters(value) if isinstance(value, str) else None
    thickness = (
        thickness_of_class(quarters)
        if quarters is not None
        else Measured(read_size(value, info), CALIPER_U_MM)
    )
    if not THINNEST_MM <= thickness.value_mm <= THICKEST_MM:
        raise ValueError(
            f'"{value}" is no thickness of a board (write 4/4, or a measured one with its unit)'
        )
    return thickness


def _length(value: object, info: ValidationInfo) -> float:
    return _side(value, info, (SHORTEST_MM, LONGEST_MM), ("shorter", "longer"))


def _width(value: object, info: ValidationInfo) -> float:
    return _side(value, info, (NARROWEST_MM, WIDEST_MM), ("narrower", "wider"))


def _side(
    value: object, info: ValidationInfo, limits: tuple[float, float], words: tuple[str, str]
) -> float:
    """Return a board's length or width, mm; the sentence speaks the unit of the list.

    A list in inches that is read as millimetres would make boards of no size, silently.
    """
    size, units = read_size(value, info), (info.context or {}).get("units", "mm")
    written = shortened(str(value))
    if size < limits[0]:
        whole = whole_mm(value, info)
        asked = f"is {whole} mm meant?" if whole else f"is the unit missing, such as {written} in?"
        raise ValueError(
            f'"{written}" is under {length_text(limits[0], units)}, {words[0]} than any board'
            f" ({asked})"
        )
    if size > limits[1]:
        raise ValueError(
            f'"{written}" is over {length_text(limits[1], units)}, {words[1]} than any board'
            " (is it the wrong unit?)"
        )
    return size


class BoardCells(Row):
    """One row of ``boards.csv``."""

    # What a board.json may say, a list may say: `tally` writes lists of any boards.
    id: BoardId
    thickness: Annotated[Any, BeforeValidator(_thickness)]
    length: Annotated[float, BeforeValidator(_length)]
    width: Annotated[float, BeforeValidator(_width)]
    species: Annotated[str, Field(min_length=1, max_length=500)] = "unknown"
    flaws: str = ""
    trim_a: Allowance | None = None
    trim_b: Allowance | None = None
    price: Price | None = None
    looked_over: Flag = False
    only_parts: str = ""
    keep_whole: Flag = False


COLUMNS: tuple[str, ...] = tuple(BoardCells.model_fields)
REQUIRED: tuple[str, ...] = tuple(
    name for name, field in BoardCells.model_fields.items() if field.is_required()
)


def read_boards_list(path: Path, units: str = "mm") -> tuple[Board, ...]:
    """Return the boards of a ``boards.csv``.

    Parameters
    ----------
    units
        The unit of a bare number: ``mm`` or ``inch``.

    Raises
    ------
    FileError
        The file cannot be read.
    BoardError
        Something in it is wrong; one sentence names row, column and what to do.
    """
    return boards_of_text(read_text(path, fallback_encoding=TABLE_ENCODING), str(path), units)


def boards_of_text(text: str, name: str, units: str = "mm") -> tuple[Board, ...]:
    """Return the boards in a text; ``name`` is the file's name (see ``read_boards_list``)."""
    rows = csv_rows(text.lstrip("\ufeff"), name, COLUMNS, REQUIRED, BoardError)
    if not rows:
        raise BoardError(f"{name} has no boards", "write one row for each board")
    if len(rows) > MAX_BOARDS:
        raise BoardError(f"{name} has {len(rows)} rows", f"keep to {MAX_BOARDS} at most")
    boards: dict[str, Board] = {}
    for number, cells in rows:
        board = _board_of(cells, f"{name}, row {number}, column ", units, mend="mend that cell")
        former = boards.get(file_key(board.id))
        if former is not None:
            raise BoardError(
                f'{name}, row {number}: "{board.id}" is also the id of a row above'
                + ("" if former.id == board.id else f" ({former.id})"),
                "give each board its own id",
            )
        boards[file_key(board.id)] = board
    return tuple(boards.values())


def board_of_cells(cells: Mapping[str, str], units: str = "mm") -> Board:
    """Return one board typed into a form, from its cells by column of a list.

    Raises
    ------
    BoardError
        Something in it is wrong; one sentence names the field and what to do.
    """
    return _board_of(cells, "the board's ", units, mend="type it anew")


def boards_csv(boards: Iterable[Board]) -> str:
    """Return the text of ``boards.csv``: lengths in mm, struck flaws left out."""
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(COLUMNS)
    for board in boards:
        x0, y0, _, _ = board.faces[1].outline.bounds
        width = sawn_width_mm(station.width.value_mm for station in board.widths)
        table.writerow(
            [
                board.id,
                _thickness_text(board.thickness),
                _mm(board.length.value_mm),
                _mm(width),
                board.species,
                " | ".join(
                    _flaw_text(flaw, (x0, y0), (board.length.value_mm, width))
                    for flaw in board.flaws
                    if flaw.counts
                ),
                *(_mm_or_empty(board.ends[end].trim_mm) for end in ("A", "B")),
                "" if board.price is None else f"{board.price:.2f}",
                "yes" if board.is_looked_over else "no",
                " | ".join(board.only_parts or ()),
                "yes" if board.keep_whole else "no",
            ]
        )
    return stream.getvalue()


def _board_of(cells: Mapping[str, Any], before: str, units: str, *, mend: str) -> Board:
    """Return a board; ``before`` a column's name says where what is wrong stands."""
    try:
        row = BoardCells.model_validate(dict(cells), context={"units": units}, strict=False)
    except ValidationError as problem:
        error: Mapping[str, Any] = problem.errors(include_url=False)[0]
        column = str(error["loc"][0])
        if error["type"] == "missing":
            raise BoardError(f"{before}{column} is empty", "fill it in") from None
        raise BoardError(f"{before}{column}: {complaint(error)}", mend) from None
    face = Face(box(0.0, 0.0, row.length, row.width), looked_over=row.looked_over)
    size = (row.length, row.width)
    return Board(
        id=row.id,
        species=row.species,
        thickness=row.thickness,
        length=Measured(row.length, _TAPED_U_MM),
        widths=tuple(
            Station(s * row.length, Measured(row.width, _TAPED_U_MM)) for s in STATION_SHARES
        ),
        faces={1: face, 2: face},
        flaws=_flaws_of(row.flaws, size, f"{before}flaws", units),
        ends={
            end: End(row.looked_over, trim) for end, trim in (("A", row.trim_a), ("B", row.trim_b))
        },
        price=row.price,
        only_parts=tuple(_divided(row.only_parts)) or None,
        keep_whole=row.keep_whole,
    )


def flaw_example(units: str) -> str:
    """Return a flaw as it is written in a list of these units."""
    return _FLAW_LIKE["inch" if units == "inch" else "mm"]


def _flaws_of(text: str, size: tuple[float, float], where: str, units: str) -> tuple[Flaw, ...]:
    return tuple(
        _flaw_of(one, f"F{n}", size, where, units) for n, one in enumerate(_divided(text), 1)
    )


def _divided(text: str) -> list[str]:
    """Return what stands between the bars of a cell."""
    return [one.strip() for one in text.split("|") if one.strip()]


def _flaw_of(text: str, id: str, size: tuple[float, float], where: str, units: str) -> Flaw:
    match = _FLAW.fullmatch(" ".join(text.lower().split()))
    if match is None:
        raise BoardError(f'{where}: "{text}" is no flaw', f"write it like {flaw_example(units)}")
    name = match["kind"].replace(" ", "_")
    if name not in {kind.value for kind in FlawKind}:
        known = ", ".join(kind.words for kind in FlawKind)
        raise BoardError(f'{where}: "{match["kind"]}" is no kind of flaw', f"the kinds are {known}")
    kind = FlawKind(name)
    if match["sound"] and kind is not FlawKind.KNOT:
        raise BoardError(f"{where}: only a knot is sound or unsound", "take the word out")
    try:
        x0, x1, y0, y1 = (read_length_mm(match[key], units) for key in ("x0", "x1", "y0", "y1"))
    except LengthError as problem:
        raise BoardError(
            f"{where}: {problem.what}", f"write it like {flaw_example(units)}"
        ) from None
    if not (x0 < x1 and y0 < y1):
        raise BoardError(
            f'{where}: "{text}" ends before it starts', "write the smaller figure first"
        )
    if x0 > size[0] or y0 > size[1]:
        raise BoardError(f'{where}: "{text}" lies beyond the board', "measure from end A again")
    shape = box(x0, y0, min(x1, size[0]), min(y1, size[1]))
    faces = (1, 2) if match["faces"] == "both" else (int(match["faces"]),)
    return Flaw(
        id=id,
        kind=kind,
        outlines=dict.fromkeys(faces, shape),
        sound=match["sound"].strip() == "sound" if match["sound"] else None,
        is_through=len(faces) == 2,
        state=FlawState.ADDED,
        u_mm=_TAPED_U_MM,
    )


def _thickness_text(thickness: Measured) -> str:
    """Return a class as 4/4 where nobody measured, so that no one takes it for measured later."""
    quarters = quarters_of(thickness.value_mm)
    if not is_measured(thickness) and _mm(thickness_of_class(quarters).value_mm) == _mm(
        thickness.value_mm
    ):
        return f"{quarters}/4"
    return _mm(thickness.value_mm)


def _flaw_text(flaw: Flaw, corner: tuple[float, float], size: tuple[float, float]) -> str:
    faces = sorted(flaw.outlines)
    every = [flaw.outlines[face].bounds for face in faces]
    (x0, x1), (y0, y1) = (
        _within(min(b[n] for b in every) - corner[n], max(b[n + 2] for b in every) - corner[n], far)
        for n, far in enumerate(size)
    )
    words = flaw.kind.words
    place = "both" if len(faces) == 2 else str(faces[0])
    known = None if flaw.state is FlawState.POSSIBLE else flaw.sound
    sound = {True: " sound", False: " unsound", None: ""}[known]
    return f"{words} {place} {_mm(x0)} to {_mm(x1)} by {_mm(y0)} to {_mm(y1)}{sound}"


def _within(start: float, end: float, far: float) -> tuple[float, float]:
    """Return where a flaw from ``start`` to ``end`` lies on a board that goes from 0 to ``far``.

    A list knows one width: what lies beyond it, at a tapering board's wide end, is laid at that
    edge in its size, and nothing is thinner than a list can say.
    """
    if start >= far:
        start, end = start - (end - far), far
    elif end <= 0:
        start, end = 0.0, end - start
    start = round(max(start, 0.0), 1)
    return min(start, far - _FINEST_MM), max(round(end, 1), start + _FINEST_MM)


def _mm(length: float) -> str:
    return f"{length:.1f} mm"


def _mm_or_empty(length: float | None) -> str:
    return "" if length is None else _mm(length)
