"""What all our files share: strict rows, reading a text, and errors as one sentence."""

import codecs
import difflib
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from scanner.errors import FileError, ScannerError
from scanner.units import shortened

# Far above any real board (an outline at 0.5 mm steps is under 1 MB); a wrong file stays cheap.
MAX_BYTES = 50_000_000
# What spreadsheets save a table in that do not save UTF-8.
TABLE_ENCODING = "cp1252"


class Row(BaseModel):
    """A record at the file border: unknown fields, loose types and NaN are refused."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, validate_by_name=True
    )


RowT = TypeVar("RowT", bound=Row)


def read_text(path: Path, *, fallback_encoding: str | None = None) -> str:
    """Return the text of a file, a byte order mark removed.

    Raises
    ------
    FileError
        The file is missing, a folder, unreadable, too big or no text.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise FileError(f"{path} is too big to be one of our files", "choose another file")
        with path.open("rb") as stream:
            # What tells no size (a device) has no end either.
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise FileError(f"there is no file {path}", "look at its name and folder") from None
    except IsADirectoryError:
        raise FileError(f"{path} is a folder", "name a file in it") from None
    except PermissionError:
        raise FileError(f"{path} may not be read", "change its permissions") from None
    except OSError as problem:
        raise FileError(f"{path} cannot be read ({problem.strerror})", "try again") from None
    if len(raw) > MAX_BYTES:
        raise FileError(f"{path} is too big to be one of our files", "choose another file")
    return text_of(raw, str(path), fallback_encoding=fallback_encoding)


def text_of(raw: bytes, where: str, *, fallback_encoding: str | None = None) -> str:
    """Return the text in bytes, a byte order mark removed; ``where`` names them in the refusal.

    Raises
    ------
    FileError
        They are no text.
    """
    # Spreadsheets' "Unicode text" begins with the mark of UTF-16.
    marked = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", fallback_encoding):
        if encoding is None:
            continue
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise FileError(f"{where} is no UTF-8 text", "save it as UTF-8 text, or choose another file")


def json_of(text: str, where: str, mend: str, kind: type[ScannerError]) -> object:
    """Return what a JSON text holds; ``where`` names the file in the refusal.

    Raises
    ------
    ScannerError
        Of the class ``kind``: it is no JSON, or none that anybody wrote.
    """
    try:
        return json.loads(text)
    except json.JSONDecodeError as problem:
        what = f"{where} is no JSON (line {problem.lineno}, column {problem.colno}: {problem.msg})"
        raise kind(what, mend) from None
    except ValueError:
        # Python reads no whole number of more than 4300 figures.
        raise kind(f"{where} has a number that is far too long", "mend that number") from None
    except RecursionError:
        raise kind(f"{where} is nested too deep", "make the file anew") from None


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like this one, or None if none is near."""
    found = difflib.get_close_matches(word.lower(), sorted(known), n=1, cutoff=0.7)
    return found[0] if found else None


def place_of(loc: tuple[int | str, ...]) -> str:
    """Return where in a file an error lies, such as ``flaws > row 3 > score``."""
    return " > ".join(f"row {step + 1}" if isinstance(step, int) else step for step in loc)


def shown(value: object) -> str:
    """Return a value as a short text for a sentence."""
    if isinstance(value, str):
        # Shortened within its quote marks.
        return json.dumps(shortened(value), ensure_ascii=False)
    return shortened(json.dumps(value, ensure_ascii=False, default=str))


def complaint(error: Mapping[str, Any]) -> str:
    """Return what is wrong with a value, for ``field X ...``, in plain words."""
    context = error.get("ctx", {})
    given = shown(error.get("input"))
    match error["type"]:
        case "greater_than":
            return f"must be more than {context['gt']:g}, not {given}"
        case "greater_than_equal":
            return f"must be {context['ge']:g} or more, not {given}"
        case "less_than":
            return f"must be less than {context['lt']:g}, not {given}"
        case "less_than_equal":
            return f"must be {context['le']:g} or less, not {given}"
        case "float_type" | "float_parsing" | "finite_number":
            return f"must be a number, not {given}"
        case "int_type" | "int_parsing" | "int_from_float":
            return f"must be a whole number, not {given}"
        case "bool_type" | "bool_parsing":
            return f"must be true or false, not {given}"
        case "string_type":
            return f"must be a text, not {given}"
        case "literal_error" | "enum":
            return f"must be {context['expected']}, not {given}"
        case "string_too_short":
            return "must not be empty"
        case "string_too_long" | "too_long" if isinstance(error.get("input"), str):
            return f"must have {context['max_length']} letters at most, not {given}"
        case "string_pattern_mismatch":
            return (
                "becomes part of file names: begin with a letter or figure and use only these,"
                f" - and _, not {given}"
            )
        case "dict_type" | "model_type" | "model_attributes_type":
            return f"must be a record, not {given}"
        case "list_type" | "tuple_type":
            return f"must be a list, not {given}"
        case "too_short":
            return f"needs {context['min_length']} or more entries, not {context['actual_length']}"
        case "too_long":
            return f"needs {context['max_length']} entries, not {context['actual_length']}"
        case "value_error":
            return str(context["error"])
        case _:
            return f"{error['msg'][0].lower()}{error['msg'][1:]} (it is {given})"


def fields_beside(model: type[BaseModel], loc: Sequence[int | str]) -> set[str]:
    """Return the names of the fields that the record has in which this one lies."""
    whole = model.model_json_schema(by_alias=True)
    here: Mapping[str, Any] = whole
    for step in (*loc[:-1], None):
        # What may be null or is named elsewhere, as pydantic writes it.
        here = next((one for one in here.get("anyOf", ()) if one.get("type") != "null"), here)
        here = whole["$defs"][here["$ref"].rpartition("/")[2]] if "$ref" in here else here
        if step is not None:
            inner = here.get("items") or here.get("additionalProperties") or {}
            here = here.get("properties", {}).get(step, inner)
    return set(here.get("properties", ()))


def refuse(
    problem: ValidationError, where: str, model: type[BaseModel], kind: type[ScannerError]
) -> NoReturn:
    """Raise the first error of a file as one sentence."""
    errors = problem.errors(include_url=False)
    # A field written wrong is missing too: its misspelling is the better thing to say.
    error = next((one for one in errors if one["type"] == "extra_forbidden"), errors[0])
    loc = tuple(step for step in error["loc"] if step != "[key]")
    more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
    if error["type"] == "missing":
        raise kind(f'{where} has no field "{place_of(loc)}"{more}', "add it") from problem
    if error["type"] == "extra_forbidden":
        near = nearest(str(loc[-1]), fields_beside(model, loc))
        mend = f'write "{near}", or take the field out' if near else "take the field out"
        raise kind(f'{where} has an unknown field "{place_of(loc)}"{more}', mend) from problem
    at = f"{where}, field {place_of(loc)}{more}," if loc else f"{where}{more}:"
    what = f"{at} {complaint(error)}"
    raise kind(what, "mend it, or make the file anew") from problem


def read_json(path: Path, model: type[RowT], format_name: str, kind: type[ScannerError]) -> RowT:
    """Return the record in a JSON file of ours.

    Raises
    ------
    FileError
        The file cannot be read as text.
    ScannerError
        Of the class ``kind``: it is no JSON, another format, a newer version, or a field is wrong.
    """
    return record_of(read_text(path), str(path), model, format_name, kind)


def record_of(
    text: str, where: str, model: type[RowT], format_name: str, kind: type[ScannerError]
) -> RowT:
    """Return the record in a JSON text; ``where`` names the file in errors (see ``read_json``)."""
    loose = json_of(text, where, "mend that line, or make the file anew", kind)
    if not isinstance(loose, dict) or loose.get("format") != format_name:
        why = (
            f'its "format" is {shown(loose.get("format"))}'
            if isinstance(loose, dict)
            else "no record"
        )
        what = f"{where} is no {format_name} file ({why})"
        raise kind(what, f"name a {format_name} file")
    version = loose.get("version")
    if isinstance(version, int) and version > 1:
        what = f"{where} is of version {version}, this program reads version 1"
        raise kind(what, "update the program")
    try:
        return model.model_validate_json(text)
    except ValidationError as problem:
        refuse(problem, where, model, kind)
