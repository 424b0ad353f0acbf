"""The yard card as a phone at the rack shows it."""

from dataclasses import replace

import pytest

from scanner.lot.yard_card import card_sections
from scanner.placement.parts import Faces
from scanner.placement.shop import Shop
from scanner.sheets.yard_card_html import yard_card_html
from tests.common import shelf_parts
from tests.ui.conftest import PHONE

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_a_phone_answers_at_the_rack(tmp_path, visit):
    file = tmp_path / "card.html"
    shop = Shop.inch()
    file.write_text(yard_card_html(card_sections(shelf_parts(), shop), "inch", 3.2, 50.8))
    window = visit(PHONE)
    window.page.goto(file.as_uri())
    form = window.page.locator("form").first
    form.locator("[name=width]").fill("7 1/2")
    form.locator("[name=length]").fill("8")
    section = card_sections(shelf_parts(), shop)[0]
    row = section.rows[0]
    across = int((7.5 * 25.4 - section.edges_mm + 3.2) // (row.width_mm + 3.2))
    along = int((96 * 25.4 - 2 * 50.8 + 3.2) // (row.length_mm + 3.2))
    wanted = f"{min(across * along, row.count)} × {row.name}"
    assert wanted in form.locator("output").inner_text()
    # A board as wide as the rough part gives none: its edges lose something too.
    form.locator("[name=width]").fill(f"{(row.width_mm + 1.0) / 25.4:.3f}")
    assert row.name not in form.locator("output").inner_text()
    form.locator("[name=width]").fill("1")
    assert "none of these parts" in form.locator("output").inner_text()
    # Feet and inches are not what the field takes: it says so instead of saying nothing.
    form.locator("[name=width]").fill("7 1/2")
    form.locator("[name=length]").fill("8' 6\"")
    assert "type it like 8 1/2, without a unit" in form.locator("output").inner_text()
    # Half typed it is not wrong yet.
    form.locator("[name=length]").fill("8 1/")
    assert form.locator("output").inner_text() == ""
    assert window.problems == []


@pytest.mark.parametrize("units", ["inch", "mm"])
def test_the_card_is_no_wider_than_a_phone(tmp_path, visit, units):
    file = tmp_path / "card.html"
    shop = Shop.inch() if units == "inch" else Shop()
    long = replace(shelf_parts()[0], name="front apron stretcher", faces=Faces.HIDDEN)
    text = yard_card_html(card_sections((*shelf_parts(), long), shop), units, 3.2, 50.8)
    file.write_text(text, encoding="utf-8")
    page = visit(PHONE).page
    page.goto(file.as_uri())
    # A phone makes its window as wide as the page that does not fit: it is held against the screen.
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    assert wide <= PHONE["viewport"]["width"]
