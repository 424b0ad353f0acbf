"""``shop.toml``: the shop's sizes in; every key has a default."""

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError

from scanner.board.species import species_key
from scanner.errors import SettingsError
from scanner.files.rows import Row, read_text, refuse
from scanner.placement.shop import CutClass, FootPrice, Shop
from scanner.units import is_bare_fraction, read_length_mm, shortened


def _length(value: object) -> object:
    """Turn a text such as ``1/8 in`` into mm; numbers are mm, as the key's name says."""
    if isinstance(value, str) and is_bare_fraction(value):
        # Nobody means fractions of a millimetre.
        raise ValueError(f'"{shortened(value)}" has no unit (write "{value.strip()} in")')
    return read_length_mm(value) if isinstance(value, str) else value


# Bounds keep slips out (a kerf typed in tenths, a trim in metres), not odd shops.
Kerf = Annotated[float, BeforeValidator(_length), Field(ge=0, le=20)]
Small = Annotated[float, BeforeValidator(_length), Field(ge=0, le=100)]
Trim = Annotated[float, BeforeValidator(_length), Field(ge=0, le=600)]
Width = Annotated[float, BeforeValidator(_length), Field(gt=0, le=2000)]
Length = Annotated[float, BeforeValidator(_length), Field(ge=0, le=6000)]
PieceLength = Annotated[float, BeforeValidator(_length), Field(gt=0, le=6000)]
FootCost = Annotated[float, Field(ge=0, le=1_000_000)]
_AS_TOML = "write one key = value a line, numbers with a point, words in quote marks"

# "white ash 8/4": the thickness class is the last word.
_CLASS = re.compile(r"^(?P<species>.*?)(?:\s+(?P<quarters>\d{1,2})/4)?$")


class ShopRow(Row):
    """``shop.toml``; what is not set keeps the default of its units."""

    kerf_mm: Kerf | None = None
    sawing_tolerance_mm: Small | None = None
    end_trim_seen_mm: Trim | None = None
    end_trim_unseen_mm: Trim | None = None
    length_allowance_mm: Trim | None = None
    width_allowance_mm: Small | None = None
    cleanup_mm: Small | None = None
    piece_length_mm: PieceLength | None = None
    shortest_piece_mm: Length | None = None
    jointer_width_mm: Width | None = None
    planer_width_mm: Width | None = None
    snipe_mm: Trim | None = None
    cut_class: CutClass | None = None
    units: Literal["mm", "inch"] | None = None
    currency: Annotated[str, Field(max_length=8)] | None = None
    price_per_board_foot: dict[str, FootCost] | None = None


def read_shop(path: Path | None, units: Literal["mm", "inch"] | None = None) -> Shop:
    """Return the shop settings of a ``shop.toml``, or the defaults for None.

    Parameters
    ----------
    units
        Used where the file does not set its own; inch brings inch-native defaults.

    Raises
    ------
    FileError
        The file cannot be read.
    SettingsError
        It is no TOML, or a key is unknown or out of range; the sentence names the key.
    """
    set_here: dict[str, Any] = {}
    if path is not None:
        set_here = _record_of(read_text(path), str(path))
    chosen = set_here.get("units") or units or "mm"
    start = Shop.inch() if chosen == "inch" else Shop()
    return replace(start, **set_here)


def _record_of(text: str, where: str) -> dict[str, Any]:
    try:
        loose = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        what = f"{where} is no TOML ({str(problem)[:1].lower()}{str(problem)[1:]})"
        raise SettingsError(what, _AS_TOML) from None
    except ValueError:
        # Python reads no whole number of more than 4300 figures.
        what = f"{where} has a number that is far too long"
        raise SettingsError(what, "mend that number") from None
    except RecursionError:
        what = f"{where} is no TOML of ours (brackets within brackets without end)"
        raise SettingsError(what, "write one key = value a line") from None
    try:
        row = ShopRow.model_validate(loose)
    except ValidationError as problem:
        refuse(problem, where, ShopRow, SettingsError)
    record = row.model_dump(exclude_none=True)
    if (costs := record.pop("price_per_board_foot", None)) is not None:
        record["foot_prices"] = tuple(
            foot_price_of(name, cost, f"{where}: price_per_board_foot")
            for name, cost in costs.items()
        )
    return record


def foot_price_of(name: str, price: float, where: str) -> FootPrice:
    """Return what a board foot of a wood costs, ``white ash`` or ``white ash 8/4``.

    Raises
    ------
    SettingsError
        The name has no species.
    """
    found = _CLASS.match(name.strip())
    if found is None or not any(letter.isalpha() for letter in found["species"]):
        raise SettingsError(
            f'{where} "{name}" names no species',
            'write the species, and the thickness if you like: "white ash 8/4" = 8.25',
        )
    quarters = int(found["quarters"]) if found["quarters"] else None
    return FootPrice(species_key(found["species"]), quarters, price)
