"""The browser's Back leads through the pages that were looked at, in a real browser."""

import pytest

from tests.ui.conftest import DESK, PHONE, settle

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def _at(page, name):
    page.wait_for_url(f"**/{name}?lot=*")
    settle(page)


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_back_takes_one_press_a_page_and_leads_out_of_a_lot(empty_lot, visit, size):
    page = visit(size).page
    name = empty_lot.file.stem
    page.goto(empty_lot.address.partition("?")[0])
    page.get_by_role("button", name=name, exact=True).click()
    _at(page, "parts")
    for step in ("Boards", "Flaws"):
        page.get_by_role("button", name=step).first.click()
        _at(page, step.casefold())
    for step in ("boards", "parts"):
        page.go_back()
        _at(page, step)
    page.go_back()
    page.get_by_role("heading", name="A new lot").wait_for()
    page.go_forward()
    _at(page, "parts")
    # The lot that was left by the button is one press away as well.
    page.get_by_role("button", name="Other lots").click()
    page.get_by_role("heading", name="A new lot").wait_for()
    settle(page)
    page.go_back()
    _at(page, "parts")
    assert page.get_by_role("heading", name=name).is_visible()
