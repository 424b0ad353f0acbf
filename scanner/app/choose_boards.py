"""The errand "which boards to take": priced boards and a parts list in, a set of boards out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.given_boards import read_given_boards
from scanner.app.place_parts import known_units
from scanner.errors import PlacementError
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.lot.choosing import Choice, choose_boards
from scanner.units import decimal_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def which_boards(
    parts_file: Path,
    board_files: tuple[Path, ...],
    *,
    shop_file: Path | None = None,
    units: str = "mm",
    budget: float | None = None,
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[str, ...]:
    """Return in words which boards to take, what they cost and what each is worth to the list.

    Raises
    ------
    PlacementError
        A budget without prices.
    """
    unit = known_units(units)
    shop = read_shop(shop_file, unit)
    parts = read_parts(parts_file, unit)
    boards, _ = read_given_boards(board_files, unit)
    unpriced = [board.id for board in boards if board.price is None]
    if budget is not None and unpriced:
        raise PlacementError(
            f"{', '.join(unpriced)} has no price, so a budget says nothing",
            "give every board its price (the column price of boards.csv, or in board.json)",
        )
    choice = choose_boards(
        boards, parts, shop, budget, progress=lambda share: progress("laying out", share)
    )
    progress("done", 1.0)
    return _lines(choice, shop.currency)


def _lines(choice: Choice, currency: str) -> tuple[str, ...]:
    def money(price: float) -> str:
        if not choice.by_price:
            return f"{decimal_text(price)} board feet"
        return f"{price:.2f} {currency}".strip()

    if not choice.taken:
        return ("no board can be paid for out of that budget",)
    lines = [
        f"take {', '.join(choice.taken)}: {money(choice.price)} of {money(choice.price_of_all)},"
        f" {choice.placed} of {choice.asked} parts placed"
    ]
    for worth in choice.worth:
        lost = ", ".join(f"{count} × {name}" for name, count in worth.lost)
        lines.append(
            f"  {worth.board} ({money(worth.price)}): without it"
            f" {lost + ' would be lost' if lost else 'nothing would be lost'}"
        )
    if not choice.by_price:
        lines.append("Not every board has a price: board feet stand for them.")
    lines.append("The cheapest set that was found, not proven to be the cheapest there is.")
    return tuple(lines)
