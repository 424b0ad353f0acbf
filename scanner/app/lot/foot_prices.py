"""The errand "what wood costs": currency and prices of a board foot in a lot's settings."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from scanner.app.lot.open_lot import new_stamp, parts_of
from scanner.errors import BoardError, SettingsError
from scanner.files.cells import read_price
from scanner.files.shop_file import foot_price_of
from scanner.lot.money import lot_cost_lines, money_lines, money_of

if TYPE_CHECKING:
    from scanner.storage.lots import Lot

_CURRENCY_LETTERS = 8


def read_amount(text: str, what: str) -> float | None:
    """Return an amount of money as typed, None for an empty text.

    Raises
    ------
    BoardError
        The text is no amount; ``what`` names it.
    """
    if not text.strip():
        return None
    try:
        amount = read_price(text)
    except ValueError as problem:
        raise BoardError(f"{what}: {problem}", "write it like 38.50") from None
    if amount < 0:
        raise BoardError(f'{what}: "{text}" is no amount of money', "write it like 38.50")
    return amount


def foot_prices_text(lot: Lot) -> str:
    """Return the prices of a board foot as a person writes them: ``white ash 8/4 = 8.25``."""
    lines = [
        f"{price.species}{f' {price.quarters}/4' if price.quarters else ''}"
        f" = {_as_kept(price.price)}"
        for price in lot.shop().foot_prices
    ]
    return "\n".join(lines)


def _as_kept(price: float) -> str:
    """Return a price to the cent, or with all its figures: what is shown is what is kept next."""
    to_the_cent = f"{price:.2f}"
    if float(to_the_cent) == price:
        return to_the_cent
    figures = f"{Decimal(repr(price)):f}"
    # 123.456 would be refused: it is 123456 to some.
    return f"{figures}0" if re.fullmatch(r"\d{3}\.\d{3}", figures) else figures


def set_foot_prices(lot: Lot, text: str, currency: str) -> None:
    """Keep what a board foot costs, one wood a line: its species, the class if it matters, a price.

    Raises
    ------
    BoardError
        A price is no amount of money.
    SettingsError
        A line is no price, names no species or a wood twice, or the currency is long.
    """
    found = {}
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        wood, sign, price = line.rpartition("=")
        # Nobody asks thousands for a board foot: 4.125 is what it says.
        is_small = re.fullmatch(r"\d{1,2}\.\d{3}", price.strip())
        amount = (
            float(price) if is_small else read_amount(price, f"line {number}") if sign else None
        )
        if amount is None:
            raise SettingsError(
                f'line {number}: "{line}" is no price', "write white ash 8/4 = 8.25"
            )
        one = foot_price_of(wood, amount, f"line {number}")
        if (one.species, one.quarters) in found:
            raise SettingsError(f"line {number} prices {wood.strip()} again", "take one line out")
        found[one.species, one.quarters] = one
    if len(currency.strip()) > _CURRENCY_LETTERS:
        raise SettingsError(f'"{currency}" is long for a currency', "write it like EUR")
    shop = replace(lot.shop(), foot_prices=tuple(found.values()), currency=currency.strip())
    if shop != lot.shop():
        lot.set_shop(shop, new_stamp(lot, "page"))


def cost_lines(lot: Lot) -> tuple[str, ...]:
    """Return what a lot costs and, with a layout, what each part does; nothing without a price."""
    saved, boards, shop = lot.layout(), lot.boards(), lot.shop()
    parts = parts_of(lot) if lot.parts_text() is not None else ()
    listed = {part.name for part in parts}
    # A layout of a former list prices no part of this one.
    if saved is None or not {one.part for one in saved.layout.placements} <= listed:
        money = money_of(boards, shop)
        return () if money is None else lot_cost_lines(money)
    money = money_of(boards, shop, saved.layout, parts)
    return () if money is None else money_lines(money)
