"""Ticking parts off in a real browser, on a phone in the shop and at a desk."""

import pytest

from scanner.app.lot.open_lot import open_lot
from tests.ui.conftest import DESK, PHONE, until

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_LAYOUT_MS = 240_000


def _open_cut(window, lot):
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(lot.address.replace("/?", "/cut?"))
    page.get_by_role("button", name="rail 1 is marked").wait_for()
    return page


def _state(lot, part, copy):
    kept = open_lot(lot.file)
    try:
        placements = kept.layout().layout.placements
        return next((one.state for one in placements if (one.part, one.copy) == (part, copy)), None)
    finally:
        kept.close()


def _is_up_to_date(lot):
    kept = open_lot(lot.file)
    try:
        return kept.layout_revision() == kept.revision
    finally:
        kept.close()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_part_goes_through_the_shop_tap_by_tap(lot, visit, size):
    window = visit(size)
    page = _open_cut(window, lot)
    widths = [
        page.get_by_role("button", name=f"rail 1 is {said}").bounding_box()["width"]
        for said in ("marked", "held where it lies")
    ]
    # Few hold a part here: what is done with it next is the larger button.
    assert widths[0] > 1.3 * widths[1]
    for state in ("marked", "cut", "milled", "resting", "done"):
        page.get_by_role("button", name=f"rail 1 is {state}", exact=True).click()
    page.get_by_title("Undo: rail 1: done").wait_for()
    page.locator(".road button").filter(has_text="1 of 8 cut").wait_for()
    assert _state(lot, "rail", 1) == "done"
    page.get_by_role("button", name="Undo").click()
    page.get_by_title("Redo: rail 1: done").wait_for()
    assert _state(lot, "rail", 1) == "resting"
    page.reload()
    page.get_by_role("button", name="rail 1 is done").wait_for()
    assert window.problems == []


def test_a_spoiled_part_gets_another_place(lot, visit):
    page = _open_cut(visit(PHONE), lot)
    page.get_by_role("button", name="cleat is spoiled").tap()
    page.get_by_text("Spoiled, and asked for again: cleat on B01.").wait_for()
    page.get_by_text("being placed again").wait_for(state="detached", timeout=_LAYOUT_MS)
    until(page, lambda: _is_up_to_date(lot))
    page.get_by_role("link", name="Board maps to print (PDF)").wait_for(timeout=_LAYOUT_MS)
    assert _state(lot, "cleat", 1) in ("planned", None)


def test_what_is_ticked_on_the_phone_shows_at_the_desk_by_itself(lot, visit):
    desk = _open_cut(visit(DESK), lot)
    phone = _open_cut(visit(PHONE), lot)
    phone.get_by_role("button", name="rail 1 is marked", exact=True).tap()
    desk.get_by_role("button", name="rail 1 is cut", exact=True).wait_for()
