"""What a person may type into a cell of a parts list, read or refused in plain words."""

import math
import re
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema

from scanner.board.volume import LONGEST_MM
from scanner.units import LengthError, read_length_mm, read_quarters, shortened

# Under 1 mm nobody means a part, and none is longer than any board: the unit went missing.
_SMALLEST_MM = 1.0
# No panel is glued up wider.
_WIDEST_MM = 3000
_MINUS = ("-", "−", "–")  # noqa: RUF001 (what spreadsheets put for a minus is meant)

_SIGN = r"(?:[$€£¥]|\b(?:USD|EUR|GBP|CHF|CAD|AUD|NZD|SEK|NOK|DKK|PLN|CZK|JPY)\b)"
_CURRENCY = re.compile(rf"^{_SIGN}\s*|\s*{_SIGN}$", re.IGNORECASE)
# Thousands parted by one mark, cents after another: 1,200.50, 1.200,50, 1'200, 1 200.
_GROUPED = re.compile(
    r"(?P<first>[1-9]\d{0,2})(?P<mark>[.,' \u00a0\u202f\u2019])(?P<second>\d{3})"
    r"(?P<more>(?:(?P=mark)\d{3})*)(?:(?!(?P=mark))[.,](?P<cents>\d{1,2}))?"
)
_THOUSAND = re.compile(r"(?P<figure>[1-9]\.\d{3})\s*(?P<unit>mm)?", re.IGNORECASE)


def _units(info: ValidationInfo) -> str:
    return str((info.context or {}).get("units", "mm"))


def _number(value: object, what: str) -> float:
    if isinstance(value, bool):
        raise ValueError(f'"{shortened(str(value))}" is no {what}')
    if isinstance(value, (int, float)):
        return float(value)
    text = str(value).strip().replace(",", ".")
    text = text.replace("−", "-")  # noqa: RUF001 (as above)
    if not re.fullmatch(r"[+-]?(\d+(\.\d*)?|\.\d+)", text):
        raise ValueError(f'"{shortened(str(value))}" is no {what}')
    return float(text)


def read_size(value: object, info: ValidationInfo) -> float:
    """Return a size in mm: a text with or without unit; a JSON number is mm."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ValueError(
            f'"{shortened(str(value))}" is no length (write it like 23 1/2 in or 597 mm)'
        )
    if isinstance(value, str):
        if value.strip().startswith(_MINUS):
            raise ValueError(f'must be more than 0, not "{value.strip()}"')
        try:
            size = read_length_mm(value, _units(info))
        except LengthError as problem:
            raise ValueError(str(problem)) from None
    else:
        size = float(value)
    if size <= 0:
        raise ValueError(f'must be more than 0, not "{value}"')
    if size < _SMALLEST_MM:
        raise ValueError(
            f'"{shortened(str(value))}" is under 1 mm (is the unit missing, such as 3/4 in?)'
        )
    if size > LONGEST_MM:
        raise ValueError(
            f'"{shortened(str(value))}" is over {LONGEST_MM / 1000:g} m (is it the wrong unit?)'
        )
    return size


def read_long(value: object, info: ValidationInfo) -> object:
    """Return a length as it is given; refuse 1.200, which is 1200 where a point parts thousands.

    Of a thickness so few millimetres may be meant, of a length nobody means them.
    """
    whole = whole_mm(value, info)
    if whole is not None:
        small = f"{int(whole) / 1000:g}"
        raise ValueError(f'"{value}" may mean {whole} or {small} (write {whole} mm or {small} mm)')
    return value


def read_wide(value: object, info: ValidationInfo) -> object:
    """Return a width as it is given; refuse 1.100 as of a length, but not 6.350.

    A part as narrow as a saw's kerf is none, and none is wider than a board is long.
    """
    whole = whole_mm(value, info)
    return value if whole is None or int(whole) > _WIDEST_MM else read_long(value, info)


def whole_mm(value: object, info: ValidationInfo) -> str | None:
    """Return 1200 of a text such as 1.200, where it is in mm and a point may part thousands."""
    found = _THOUSAND.fullmatch(value.strip()) if isinstance(value, str) else None
    if found and (found["unit"] or _units(info) == "mm"):
        return found["figure"].replace(".", "")
    return None


def read_thickness(value: object, info: ValidationInfo) -> float:
    """Return a finished thickness in mm; a rough class such as 4/4 is refused."""
    quarters = read_quarters(value) if isinstance(value, str) else None
    if quarters is not None and quarters >= 4:
        raise ValueError(
            f'"{value}" is a class of rough boards (write the finished thickness, such as 19 mm)'
        )
    return read_size(value, info)


def read_allowance(value: object, info: ValidationInfo) -> float:
    """Return an allowance in mm; 0 is one."""
    text = str(value).strip()
    if re.fullmatch(r"-?0+([.,]0+)?\s*(mm|in|\")?", text):
        return 0.0
    if text.startswith(_MINUS):
        raise ValueError(f'must be 0 or more, not "{text}"')
    return read_size(value, info)


def read_count(value: object) -> int:
    """Return a whole number."""
    number = _number(value, "whole number")
    if not math.isfinite(number) or number != int(number):
        raise ValueError(f'"{shortened(str(value))}" is no whole number')
    return int(number)


def read_weight(value: object) -> float:
    """Return a weight (a plain number, decimal point or comma)."""
    return _number(value, "number")


def read_price(value: object) -> float:
    """Return an amount of money, with or without the sign of a currency.

    1,200 and 1.200 are refused: they are 1200 to one reader and 1.2 to another. 1.200,50 is not.
    """
    if not isinstance(value, str):
        return _number(value, "amount of money")
    bare = _CURRENCY.sub("", value.strip())
    if found := _GROUPED.fullmatch(bare):
        whole = re.sub(r"\D", "", f"{found['first']}{found['second']}{found['more']}")
        if found["mark"] in ".," and not (found["more"] or found["cents"]):
            small = f"{found['first']}.{found['second']}"
            raise ValueError(f'"{value.strip()}" may mean {whole} or {small}')
        return float(f"{whole}.{found['cents'] or 0}")
    try:
        return _number(bare, "amount of money")
    except ValueError:
        raise ValueError(f'"{shortened(value.strip())}" is no amount of money') from None


def read_flag(value: object) -> bool:
    """Return yes or no."""
    if isinstance(value, bool):
        return value
    word = str(value).strip().lower()
    if word in ("yes", "y", "true", "1"):
        return True
    if word in ("no", "n", "false", "0"):
        return False
    raise ValueError(f'must be yes or no, not "{value}"')


def read_word(value: object) -> object:
    """Return a word of a fixed set as the files write it."""
    return value.strip().lower() if isinstance(value, str) else value


def read_ids(value: object) -> object:
    """Return board ids separated by spaces as a list."""
    return value.split() if isinstance(value, str) else value


def _either(*types: str) -> WithJsonSchema:
    schema: dict[str, Any] = {"type": list(types)}
    return WithJsonSchema(schema)


Size = Annotated[float, BeforeValidator(read_size), _either("number", "string")]
Long = Annotated[Size, BeforeValidator(read_long)]
Wide = Annotated[Size, BeforeValidator(read_wide)]
Thickness = Annotated[float, BeforeValidator(read_thickness), _either("number", "string")]
Allowance = Annotated[float, BeforeValidator(read_allowance), _either("number", "string")]
Weight = Annotated[
    float, BeforeValidator(read_weight), Field(gt=0, le=1e6), _either("number", "string")
]
Price = Annotated[
    float, BeforeValidator(read_price), Field(ge=0, le=1e6), _either("number", "string")
]
Staves = Annotated[
    str, BeforeValidator(lambda v: str(v).strip().lower()), _either("integer", "string")
]
Flag = Annotated[bool, BeforeValidator(read_flag), _either("boolean", "string")]
Ids = Annotated[
    list[str],
    BeforeValidator(read_ids),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]
