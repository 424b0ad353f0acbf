"""The errand "which boards to take": priced boards and a parts list in, a set of boards out."""

from __future__ import annotations

import hashlib
import math
from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.lot.foot_prices import read_amount
from scanner.app.lot.given_boards import read_given_boards, refuse_begun_lots
from scanner.app.lot.open_lot import new_stamp
from scanner.app.placing.place_parts import known_units
from scanner.errors import PlacementError
from scanner.files.board_file import board_json
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.lot.choosing import Choice, choose_boards
from scanner.lot.money import amount_text, board_prices
from scanner.lot.totals import unseen_lines
from scanner.storage.lots import Action
from scanner.units import decimal_text, percent_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Layout
    from scanner.placement.shop import Shop
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json

_NOTE = "choosing"
# So often the boards are taken as they come: enough for nine in ten to mean something.
_SHUFFLES = 20


def which_boards(
    parts_file: Path,
    board_files: tuple[Path, ...],
    *,
    shop_file: Path | None = None,
    units: str = "mm",
    budget: float | None = None,
    surcharge: float | None = None,
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[str, ...]:
    """Return in words which boards to take, what they cost and what each is worth to the list.

    Parameters
    ----------
    surcharge
        What picking by hand costs more, a share: held against the boards taken as they come.

    Raises
    ------
    PlacementError
        A budget without prices, or a lot of which parts are cut already.
    """
    unit = known_units(units)
    shop = read_shop(shop_file, unit)
    parts = read_parts(parts_file, unit)
    boards, _ = read_given_boards(board_files, unit)
    refuse_begun_lots(board_files)
    _refuse_unpriced(boards, shop, budget)
    choice = choose_boards(
        boards, parts, shop, budget,
        progress=lambda share: progress("trying sets of boards", share),
        shuffles=_SHUFFLES if surcharge is not None else 0,
    )  # fmt: skip
    progress("done", 1.0)
    return (*_lines(choice, shop.currency, surcharge), *_unseen(boards, choice))


def set_price(lot: Lot, board_id: str, text: str) -> None:
    """Keep what a board costs; an empty text forgets its price.

    Raises
    ------
    BoardError
        The text is no amount of money.
    LotError
        The lot has no such board.
    """
    price = read_amount(text, f"price of {board_id}")
    lot.record(
        Action(
            new_stamp(lot, "page"),
            board_id,
            f"{board_id}: price",
            lambda board: replace(board, price=price),
        )
    )


def price_text(lot: Lot, board_id: str) -> str:
    """Return a board's price as a person writes it, "" where it has none."""
    price = lot.board(board_id).price
    return "" if price is None else f"{price:.2f}"


def choose_in_lot(
    lot: Lot, budget: str, progress: Callable[[str, float], None], surcharge: str = ""
) -> None:
    """Find which boards of a lot to take, and note it in the lot.

    What is cut already stays and counts as placed; its boards cost nothing more.

    ``budget`` and ``surcharge`` (per cent for picking by hand) as typed, or "".

    Raises
    ------
    ScannerError
        There is no parts list, a board has no price although a budget was given, or the budget is
        no amount.
    """
    money = read_amount(budget, "budget")
    percent = read_amount(surcharge.strip().removesuffix("%"), "surcharge")
    more = None if percent is None else percent / 100
    asked = _asked(lot)
    # Placing loads what a page that only shows the last answer does not need.
    from scanner.app.placing.place_again import task_of

    task, begun = task_of(lot, asked_parts(lot)), _begun(lot)
    at_hand = {p.board for p in begun.placements} if begun else set()
    shop = task.shop
    _refuse_unpriced([board for board in task.boards if board.id not in at_hand], shop, money)
    choice = choose_boards(
        task.boards, task.parts, shop, money,
        progress=lambda share: progress("trying sets of boards", share),
        shuffles=_SHUFFLES if more is not None else 0, keep=begun,
    )  # fmt: skip
    lines = (*_lines(choice, shop.currency, more), *_unseen(task.boards, choice))
    note: Json = {"asked": asked, "lines": list(lines)}
    lot.set_note(_NOTE, note, new_stamp(lot), "looked which boards to take")


def kept_choice(lot: Lot) -> tuple[str, ...]:
    """Return which boards to take, as found for list and boards as they are now; else nothing."""
    note = lot.note(_NOTE)
    lines = note.get("lines") if isinstance(note, dict) else None
    if (
        not isinstance(note, dict)
        or note.get("asked") != _asked(lot)
        or not isinstance(lines, list)
    ):
        return ()
    return tuple(str(line) for line in lines)


def _begun(lot: Lot) -> Layout | None:
    """Return what is cut or was spoiled, as it lay; None where nothing is."""
    saved, ticks = lot.layout(), lot.ticks()
    spoiled = tuple(replace(one, state="spoiled") for one in ticks.spoiled)
    if saved is None or not (ticks.cut or spoiled):
        return None
    return replace(saved.layout, placements=(*ticks.cut, *spoiled), pieces=(), cuts=())


def _asked(lot: Lot) -> str:
    """Return a mark of all that the choice rests on."""
    boards = [board_json(board) for board in lot.boards()]
    said = (lot.parts_text(), boards, lot.shop(), lot.hand_rules(), _begun(lot))
    return hashlib.sha256(repr(said).encode()).hexdigest()


def _refuse_unpriced(boards: Sequence[Board], shop: Shop, budget: float | None) -> None:
    if budget is None:
        return
    prices = board_prices(boards, shop.foot_prices)
    unpriced = [board.id for board in boards if board.id not in prices]
    if unpriced:
        raise PlacementError(
            f"{', '.join(unpriced)} {'has' if len(unpriced) == 1 else 'have'} no price, so a "
            "budget says nothing",
            "give every board its price (on the page, in the column price of boards.csv, or in"
            " board.json), or the price of a board foot (on the page or in shop.toml)",
        )


def _unseen(boards: Sequence[Board], choice: Choice) -> tuple[str, ...]:
    """Return a line that names the boards taken that nobody has looked over, if there are such."""
    taken = (*choice.begun, *choice.taken)
    return unseen_lines(one.id for one in boards if one.id in taken and not one.is_looked_over)


def _lines(choice: Choice, currency: str, surcharge: float | None = None) -> tuple[str, ...]:
    def money(price: float) -> str:
        if not choice.by_price:
            return f"{decimal_text(price)} board feet"
        return amount_text(price, currency)

    if not choice.taken and not choice.begun:
        return ("no board can be paid for out of that budget",)
    placed = f"{choice.placed} of {choice.asked} parts placed"
    lines = [
        f"take {', '.join(choice.taken)}: {money(choice.price)} of {money(choice.price_of_all)},"
        f" {placed}"
        if choice.taken
        else f"take no further board: {placed} on what is begun"
    ]
    if missing := choice.lacking:
        lines.append(
            f"{missing} {'part finds' if missing == 1 else 'parts find'} no place on them: more"
            " boards are needed, or others"
        )
    elif choice.placed < choice.asked:
        lines.append("only spares or fillers find no place on them")
    if choice.begun:
        are = "is begun" if len(choice.begun) == 1 else "are begun"
        lines.append(
            f"{', '.join(choice.begun)} {are}: what is cut there stays and counts as placed, what"
            " is left of it is used first, and it costs nothing more"
        )
    for worth in choice.worth:
        lost = ", ".join(f"{count} × {name}" for name, count in worth.lost)
        lines.append(
            f"  {worth.board} ({money(worth.price)}): without it"
            f" {lost + ' would be lost' if lost else 'nothing would be lost'}"
        )
    if surcharge is not None and choice.pile:
        picked = choice.price * (1 + surcharge)
        enough = "hold as much" if choice.lacking else "be enough"
        half, most = (choice.pile[math.ceil(q * len(choice.pile)) - 1] for q in (0.5, 0.9))
        lines.append(
            f"picked by hand at {percent_text(surcharge)} more they cost {money(picked)}; taken as"
            f" they come from an unsorted pile of these boards {money(half)} would {enough} in"
            f" half of {len(choice.pile)} shuffles and {money(most)} in nine of ten:"
            f" {'picking' if picked <= half else 'the pile'} is cheaper"
        )
    if not choice.by_price:
        lines.append("Not every board has a price: board feet stand for them.")
    lines.append("The cheapest set that was found, not proven to be the cheapest there is.")
    return tuple(lines)
