"""Parts lists in: ``parts.csv`` and ``parts.json``, and ``parts.json`` out."""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from scanner.errors import PartsListError
from scanner.files.cells import (
    Allowance,
    Flag,
    Ids,
    Long,
    Size,
    Staves,
    Thickness,
    Weight,
    Wide,
    read_count,
    read_word,
)
from scanner.files.csv_table import csv_rows, refuse_unknown
from scanner.files.json_text import json_text, rounded
from scanner.files.rows import TABLE_ENCODING, Row, complaint, json_of, read_text, shown
from scanner.files.shape_file import Points, read_shape
from scanner.placement.parts import Faces, Part, PartsList
from scanner.units import shortened, without_unseen

Text = Annotated[str, Field(min_length=1, max_length=200)]
# Beyond these a figure was mistyped, or the file is none of a shop's.
MAX_COPIES = 10_000
MAX_ROWS = 5_000
# A drawing's outline may differ from the sizes in the list by this much.
_SHAPE_OFF_MM = 1.0


def _one_name(value: object) -> object:
    """Return a name as it is compared: on one line, letters with accents written one way."""
    if not isinstance(value, str):
        return value
    name = unicodedata.normalize("NFC", " ".join(without_unseen(value).split()))
    if any(unicodedata.category(letter) == "Cc" for letter in name):
        raise ValueError("has a sign that cannot be printed (write the name anew)")
    return name


def _counted(least: int) -> WithJsonSchema:
    return WithJsonSchema({"type": ["integer", "string"], "minimum": least, "maximum": MAX_COPIES})


def _may_be_null(schema: dict[str, Any]) -> None:
    """Let each field that may be missing be null in the schema, as `_json_rows` reads it."""
    for name in set(schema["properties"]) - set(schema["required"]):
        field = schema["properties"][name]
        may_be = field.get("anyOf", [field])
        if {"type": "null"} not in may_be:
            about = {key: field.pop(key) for key in ("title", "default") if key in field}
            schema["properties"][name] = {"anyOf": [*may_be, {"type": "null"}], **about}


class PartRow(Row):
    """One row of a parts list, sizes finished."""

    model_config = ConfigDict(json_schema_extra=_may_be_null)

    name: Annotated[str, BeforeValidator(_one_name), Field(min_length=1, max_length=60)]
    quantity: Annotated[int, BeforeValidator(read_count), Field(ge=1, le=MAX_COPIES), _counted(1)]
    length: Long
    width: Wide
    thickness: Thickness
    faces: Annotated[Faces, BeforeValidator(read_word)]
    species: Text | None = None
    sapwood: Annotated[Literal["no", "back", "any"], BeforeValidator(read_word)] = "any"
    max_knot: Size | None = None
    priority: Weight = 1.0
    match: Text | None = None
    spares: Annotated[int, BeforeValidator(read_count), Field(ge=0, le=MAX_COPIES), _counted(0)] = 0
    straight_grain: Annotated[str, BeforeValidator(read_word)] | None = None
    shape: Text | None = None
    length_min: Long | None = None
    length_max: Long | None = None
    width_min: Wide | None = None
    width_max: Wide | None = None
    equal: Text | None = None
    length_allowance: Allowance | None = None
    width_allowance: Allowance | None = None
    staves: Staves = "1"
    filler: Flag = False
    only_boards: Ids = Field(default_factory=list)
    not_boards: Ids = Field(default_factory=list)
    job: Text | None = None
    note: Text | None = None

    @field_validator("match")
    @classmethod
    def _match_is_a_set(cls, text: str | None) -> str | None:
        if text is not None and not re.fullmatch(r"[^:]+(:(bookmatch|in_order))?", text):
            raise ValueError(
                f'must be the name of a set, NAME:bookmatch or NAME:in_order, not "{text}"'
            )
        return text

    @field_validator("straight_grain")
    @classmethod
    def _grain_is_a_slope(cls, text: str | None) -> str | None:
        if text is not None and not re.fullmatch(r"follow|1\s*in\s*[1-9]\d*", text):
            raise ValueError(f'must be like 1 in 15, or follow, not "{text}"')
        return text

    @field_validator("staves")
    @classmethod
    def _staves_are_counted(cls, text: str) -> str:
        if not re.fullmatch(r"auto|[1-9]\d?", text):
            raise ValueError(f'must be a number from 1 to 99, or auto, not "{text}"')
        return text

    @model_validator(mode="after")
    def _ranges_hold(self) -> "PartRow":
        for side in ("length", "width"):
            low, high = getattr(self, f"{side}_min"), getattr(self, f"{side}_max")
            size = getattr(self, side)
            if low is not None and low > size:
                raise ValueError(f"{side}_min is more than {side} (make it {side} or less)")
            if high is not None and high < size:
                raise ValueError(f"{side}_max is less than {side} (make it {side} or more)")
        both = sorted(set(self.only_boards) & set(self.not_boards))
        if both:
            raise ValueError(f"{both[0]} stands in only_boards and in not_boards (take one out)")
        return self


class PartsRow(Row):
    """``parts.json``."""

    format: Literal["parts"]
    version: Literal[1]
    parts: Annotated[list[PartRow], Field(min_length=1)]


COLUMNS: tuple[str, ...] = tuple(PartRow.model_fields)
REQUIRED: tuple[str, ...] = tuple(
    name for name, field in PartRow.model_fields.items() if field.is_required()
)


def read_parts(path: Path, units: str = "mm") -> PartsList:
    """Return the parts of a ``parts.csv`` or ``parts.json``.

    Parameters
    ----------
    units
        The unit of a bare number in a CSV or in a text: ``mm`` or ``inch``. JSON numbers are mm.

    Raises
    ------
    FileError
        The file cannot be read.
    PartsListError
        Something in it is wrong; one sentence names row, column and what to do.
    """
    parts = read_parts_text(read_text(path, fallback_encoding=TABLE_ENCODING), str(path), units)
    return tuple(
        with_shape(part, read_shape(path.parent / part.shape), str(path)) if part.shape else part
        for part in parts
    )


def with_shape(part: Part, shape: Points, path: str) -> Part:
    """Return a curved part with its outline; ``path`` names the parts list.

    Raises
    ------
    PartsListError
        The part has another size than its drawing, or one that may give.
    """
    mistake = shape_mistake(part, shape)
    if mistake is not None:
        _, what, mend = mistake
        raise PartsListError(f'{path} ("{part.name}"): {what}', mend)
    return replace(part, outline_mm=shape)


def shape_mistake(part: Part, shape: Points) -> tuple[str, str, str] | None:
    """Return the column in which a part and its drawing disagree, what is wrong, and the mend."""
    gives = {
        "length_min": part.length_min_mm, "length_max": part.length_max_mm,
        "width_min": part.width_min_mm, "width_max": part.width_max_mm, "equal": part.equal,
    }  # fmt: skip
    column = next((name for name, value in gives.items() if value is not None), None)
    if column is not None:
        what, mend = "a part with a shape has one size only", "take out its size range and equal"
        return column, what, mend
    long, wide = (max(values) for values in zip(*shape, strict=True))
    is_long = abs(long - part.length_mm) > _SHAPE_OFF_MM
    if is_long or abs(wide - part.width_mm) > _SHAPE_OFF_MM:
        return (
            "length" if is_long else "width",
            f"its shape is {long:.1f} x {wide:.1f} mm along its grain, the "
            f"row says {part.length_mm:.1f} x {part.width_mm:.1f}",
            "make length and width those of the shape, or look at its unit",
        )
    return None


def read_parts_text(text: str, name: str, units: str = "mm") -> PartsList:
    """Return the parts in a text; ``name`` is the file's name (see ``read_parts``)."""
    if text.startswith("PK") or "\0" in text:
        raise PartsListError(f"{name} is no text file", "save the table as CSV and use that")
    text = text.lstrip("\ufeff")
    if name.lower().endswith(".json"):
        numbered, by_row = _json_rows(text, name), "part"
    else:
        numbered, by_row = csv_rows(text, name, COLUMNS, REQUIRED, PartsListError), "row"
    if not numbered:
        raise PartsListError(f"{name} has no parts", "write one row for each part")
    if len(numbered) > MAX_ROWS:
        raise PartsListError(f"{name} has {len(numbered)} rows", f"keep to {MAX_ROWS} at most")
    parts: list[Part] = []
    seen: dict[str, int] = {}
    for number, cells in numbered:
        part = _part_of(cells, f"{name}, {by_row} {number}", units)
        key = part.name.casefold()
        if key in seen:
            raise PartsListError(
                f'{name}, {by_row} {number}, column name: "{part.name}" is also the name in '
                f"{by_row} {seen[key]}",
                "give each part its own name, or make it one row with a larger quantity",
            )
        seen[key] = number
        parts.append(part)
    return tuple(parts)


def parts_json(parts: PartsList) -> str:
    """Return the text of ``parts.json``; what is at its default is left out."""
    return json_text(
        {"format": "parts", "version": 1, "parts": [_record_of_part(part) for part in parts]}
    )


def _json_rows(text: str, name: str) -> list[tuple[int, Mapping[str, Any]]]:
    loose = json_of(text, name, "mend that line", PartsListError)
    if isinstance(loose, dict):
        if loose.get("format") != "parts":
            what = f'{name} is no parts list (its "format" is {shown(loose.get("format"))})'
            raise PartsListError(what, 'name a file with "format": "parts"')
        if loose.get("version") != 1:
            what = f"{name} is of version {shown(loose.get('version'))}, not 1"
            raise PartsListError(what, "update the program, or set version to 1")
        extra = sorted(set(loose) - {"format", "version", "parts"})
        if extra:
            raise PartsListError(f'{name} has an unknown field "{extra[0]}"', "take the field out")
    rows = loose.get("parts", []) if isinstance(loose, dict) else loose
    if not isinstance(rows, list):
        raise PartsListError(f"{name} has no list of parts", 'write them as "parts": [...]')
    numbered: list[tuple[int, Mapping[str, Any]]] = []
    for number, row in enumerate(rows, 1):
        where = f"{name}, part {number}"
        if not isinstance(row, dict):
            raise PartsListError(f"{where} is no record", 'write {"name": ..., "quantity": ...}')
        for key in row:
            if key not in COLUMNS:
                refuse_unknown(where, key, key, list(row), COLUMNS, PartsListError)
        numbered.append((number, {key: cell for key, cell in row.items() if cell is not None}))
    return numbered


def _part_of(cells: Mapping[str, Any], where: str, units: str) -> Part:
    try:
        row = PartRow.model_validate(dict(cells), context={"units": units}, strict=False)
    except ValidationError as problem:
        error: Mapping[str, Any] = problem.errors(include_url=False)[0]
        label = f'{where} ("{shortened(str(cells["name"]))}")' if cells.get("name") else where
        column = str(error["loc"][0]) if error["loc"] else ""
        if error["type"] == "missing":
            # Sums, remarks and rows of units below a spreadsheet's table.
            is_other = sum(name not in cells for name in REQUIRED) > 1
            mend = "fill it in, or take the row out if it is no part" if is_other else "fill it in"
            raise PartsListError(f"{label}, column {column} is empty", mend) from None
        at = f"{label}, column {column}" if column else label
        raise PartsListError(f"{at}: {complaint(error)}", "mend that cell") from None
    return Part(
        name=row.name,
        quantity=row.quantity,
        length_mm=row.length,
        width_mm=row.width,
        thickness_mm=row.thickness,
        faces=row.faces,
        species=row.species,
        sapwood=row.sapwood,
        max_knot_mm=row.max_knot,
        priority=row.priority,
        match=row.match,
        spares=row.spares,
        straight_grain=row.straight_grain,
        shape=row.shape,
        length_min_mm=row.length_min,
        length_max_mm=row.length_max,
        width_min_mm=row.width_min,
        width_max_mm=row.width_max,
        equal=row.equal,
        length_allowance_mm=row.length_allowance,
        width_allowance_mm=row.width_allowance,
        staves=row.staves,
        filler=row.filler,
        only_boards=tuple(row.only_boards),
        not_boards=tuple(row.not_boards),
        job=row.job,
        note=row.note,
    )


def _record_of_part(part: Part) -> dict[str, Any]:
    record: dict[str, Any] = {}
    for name in COLUMNS:
        mm_name = f"{name}_mm"
        if hasattr(part, mm_name):
            length = getattr(part, mm_name)
            value: Any = None if length is None else rounded(length)
        else:
            value = getattr(part, name)
        if isinstance(value, tuple):
            value = " ".join(value)
        default = PartRow.model_fields[name].get_default(call_default_factory=True)
        if name in REQUIRED or value not in (None, "", default):
            record[name] = str(value) if isinstance(value, Faces) else value
    return record
