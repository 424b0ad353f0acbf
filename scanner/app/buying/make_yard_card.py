"""The errand "yard card": a parts list in; a sheet and a file for the phone out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.cutting.save_maps import paper_of
from scanner.app.lot.foot_prices import read_amount
from scanner.app.lot.open_lot import parts_of
from scanner.app.placing.place_parts import known_units
from scanner.errors import PartsListError
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.yard_card import card_sections, still_to_find
from scanner.sheets.paper import paper_named
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.yard_card_html import yard_card_html
from scanner.sheets.yard_card_page import yard_card_pages

if TYPE_CHECKING:
    from pathlib import Path

    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop
    from scanner.sheets.paper import PaperName
    from scanner.storage.lots import Lot


def make_yard_card(
    parts_file: Path,
    folder: Path,
    *,
    layout_file: Path | None = None,
    shop_file: Path | None = None,
    units: str = "mm",
    paper: str = "a4",
    budget: float | None = None,
) -> tuple[Path, ...]:
    """Write ``yard-card.pdf`` and ``yard-card.html``; return what was written.

    Parameters
    ----------
    layout_file
        A layout.json: what it has placed is not looked for any more.
    budget
        Money for all that is still to find, in the shop's currency.

    Raises
    ------
    PartsListError
        Nothing is left to find.
    """
    refuse_unwritable(folder)
    shop = read_shop(shop_file, known_units(units))
    parts = read_parts(parts_file, known_units(units))
    layout = read_layout(layout_file) if layout_file else None
    return write_files(folder, _card(parts, layout, shop, paper_named(paper), budget))


def yard_card_of(lot: Lot, budget: str = "") -> dict[str, bytes]:
    """Return the yard card of what a lot's layout has not placed: ``yard-card.pdf`` and ``.html``.

    Parameters
    ----------
    budget
        Money for all that is still to find as typed, "" for no limit.

    Raises
    ------
    PartsListError
        There is no parts list, or nothing is left to find.
    BoardError
        The budget is no amount of money.
    """
    money = read_amount(budget, "budget")
    saved, shop = lot.layout(), lot.shop()
    layout = None if saved is None else saved.layout
    return _card(parts_of(lot), layout, shop, paper_named(paper_of(shop)), money)


def _card(
    parts: PartsList, layout: Layout | None, shop: Shop, paper: PaperName, budget: float | None
) -> dict[str, bytes]:
    left = still_to_find(parts, layout)
    if not left:
        raise PartsListError("every part has its place already", "no yard card is needed")
    sections = card_sections(left, shop, budget)
    pages = yard_card_pages(sections, paper, shop.units, shop.currency)
    html = yard_card_html(
        sections, shop.units, shop.kerf_mm, shop.end_trim_unseen_mm, shop.currency
    )
    return {"yard-card.pdf": pdf_bytes(pages, "Yard card"), "yard-card.html": html.encode()}
