"""The errand "yard card": a parts list in; a sheet and a file for the phone out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.place_parts import known_units
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
    left = still_to_find(parts, read_layout(layout_file) if layout_file else None)
    if not left:
        raise PartsListError("every part has its place already", "no yard card is needed")
    sections = card_sections(left, shop, budget)
    pages = yard_card_pages(sections, paper_named(paper), shop.units, shop.currency)
    html = yard_card_html(
        sections, shop.units, shop.kerf_mm, shop.end_trim_unseen_mm, shop.currency
    )
    return write_files(
        folder,
        {"yard-card.pdf": pdf_bytes(pages, "Yard card"), "yard-card.html": html.encode()},
    )
