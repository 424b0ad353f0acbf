"""The errand "what my shop needs": kerf, trims, allowances and machines of a lot, as typed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from scanner.app.lot.open_lot import new_stamp
from scanner.errors import SettingsError
from scanner.files.shop_file import ShopRow
from scanner.placement.shop import Shop
from scanner.units import (
    LengthError,
    exact_text,
    inches_from_mm,
    inches_text,
    mm_from_inches,
    read_length_mm,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.storage.lots import Lot

# What a furniture maker calls them, in the order in which the wood meets them.
GROUPS: Mapping[str, Mapping[str, str]] = {
    "At the saw": {
        "kerf_mm": "Saw kerf",
        "sawing_tolerance_mm": "How far a cut may wander",
        "end_trim_seen_mm": "Cut off an end that was looked at",
        "end_trim_unseen_mm": "Cut off an end nobody looked at",
    },
    "Rough size more than finished": {
        "length_allowance_mm": "On the length",
        "width_allowance_mm": "On the width",
        "cleanup_mm": "Planed off the thickness, both faces together",
    },
    "At the machines": {
        "piece_length_mm": "Boards are crosscut to about",
        "shortest_piece_mm": "Shortest piece they take",
        "jointer_width_mm": "Widest on the jointer",
        "planer_width_mm": "Widest in the planer",
        "snipe_mm": "Snipe at each end",
    },
}
# Blades are sold by the sixty-fourth.
_FINEST, _SAME_MM = 64, 0.02
_LABELS = {name: label for group in GROUPS.values() for name, label in group.items()}


@dataclass(frozen=True, slots=True)
class ShopSize:
    """A size of the shop in the lot's units: as it is, and what it is unless somebody says so."""

    text: str
    usual: str


def shop_sizes(lot: Lot) -> dict[str, ShopSize]:
    """Return the sizes of a lot's shop by their names in ``shop.toml``."""
    shop = lot.shop()
    usual = _usual(shop)
    return {
        name: ShopSize(
            _text(getattr(shop, name), shop, getattr(usual, name)),
            _text(getattr(usual, name), shop, getattr(usual, name)),
        )
        for name in _LABELS
    }


def are_usual(lot: Lot) -> bool:
    """Whether no size was set otherwise than usual."""
    shop = lot.shop()
    return all(getattr(shop, name) == getattr(_usual(shop), name) for name in _LABELS)


def set_shop_sizes(lot: Lot, typed: Mapping[str, str]) -> None:
    """Keep sizes as a person typed them; an empty one becomes the usual one again.

    Parameters
    ----------
    typed
        Texts by name; a figure without a unit is in the lot's units.

    Raises
    ------
    SettingsError
        One is no length or out of range; its label and what is possible are said. None is kept.
    """
    shop, shown = lot.shop(), shop_sizes(lot)
    usual = _usual(shop)
    found: dict[str, Any] = {}
    for name, text in typed.items():
        # A text shows no more than a tape does: what nobody touched stays as it is.
        if text.strip() == shown[name].text:
            continue
        found[name] = _size_mm(name, text, shop) if text.strip() else getattr(usual, name)
    changed = replace(shop, **found)
    if changed != shop:
        lot.set_shop(changed, new_stamp(lot, "page"))


def _usual(shop: Shop) -> Shop:
    return Shop.inch() if shop.units == "inch" else Shop()


def _text(length_mm: float, shop: Shop, usual_mm: float) -> str:
    """Return a size as it would be typed: in an inch shop 3/32 in, but 250 mm if said so.

    Nobody there said the usual sizes in mm: a trim of 12 mm is 1/2 in, to a sixteenth.
    """
    text = exact_text(length_mm, shop.units)
    if "(" not in text:
        return text
    if length_mm == usual_mm:
        return inches_text(length_mm)
    inches = Fraction(round(inches_from_mm(length_mm) * _FINEST), _FINEST)
    if inches < 1 and abs(mm_from_inches(float(inches)) - length_mm) < _SAME_MM:
        return f"{inches} in"
    return text.partition("(")[2].rstrip(")")


def _at_most(limit_mm: float, shop: Shop) -> str:
    """Return a limit in the shop's units, in inches the last sixteenth below it."""
    if shop.units != "inch":
        return exact_text(limit_mm)
    return inches_text(mm_from_inches(int(inches_from_mm(limit_mm) * 16) / 16))


def _size_mm(name: str, text: str, shop: Shop) -> float:
    label = _LABELS[name]
    try:
        size = read_length_mm(text, shop.units)
    except LengthError as problem:
        raise SettingsError(f"{label}: {problem}", "mend it, or leave it empty") from None
    try:
        ShopRow.model_validate({name: size})
    except ValidationError as problem:
        ((rule, limit),) = problem.errors(include_url=False)[0]["ctx"].items()
        is_most = rule in ("le", "lt")
        raise SettingsError(
            f"{label}: {text.strip()} is too {'much' if is_most else 'little'}",
            f"write {_at_most(limit, shop)} or less" if is_most else "write more than nothing",
        ) from None
    return size
