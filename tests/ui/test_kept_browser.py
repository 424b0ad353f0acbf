"""What was given on a page stands there again after another page, in a real browser."""

import pytest

from tests.ui.conftest import DESK, PHONE, settle
from tests.ui.test_tap_browser import _photo_with_rule

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000


def to_step(page, name):
    page.get_by_role("button", name=name).first.click()
    settle(page)


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_photos_and_a_half_typed_board_outlast_a_look_at_the_parts(empty_lot, visit, size):
    page = visit(size).page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(empty_lot.address.replace("/?", "/boards?"))
    field = page.get_by_test_id("stFileUploader").filter(has_text="Photos of face 1")
    photo = {"mimeType": "image/jpeg", "buffer": _photo_with_rule()}
    field.locator("input[type=file]").set_input_files([photo | {"name": "front.jpg"}])
    page.get_by_text("Board 1: face 1 front.jpg").wait_for()
    settle(page)
    page.get_by_text("Type boards in, without photos").click()
    page.get_by_label("Length", exact=True).fill("8 ft")
    # What was typed last is not lost where nothing was pressed after it.
    page.get_by_label("Width", exact=True).fill("7 1/4 in")
    to_step(page, "Parts")
    page.get_by_text("Add boards from photos").wait_for(state="detached")
    to_step(page, "Boards")
    page.get_by_text("Still here: front.jpg.").wait_for()
    page.get_by_text("Board 1: face 1 front.jpg").wait_for()
    settle(page)
    assert page.get_by_label("Length", exact=True).input_value() == "8 ft"
    assert page.get_by_label("Width", exact=True).input_value() == "7 1/4 in"
    # One tap adds it, straight from a field that was typed in just now.
    page.get_by_label("Price (may be left empty)").fill("38.50")
    page.get_by_role("button", name="Add this board").click()
    page.get_by_text("B01 lies in the lot, without photos.").wait_for()
    settle(page)
    assert page.get_by_label("Length", exact=True).input_value() == ""
    page.get_by_role("button", name="Take it out").click()
    page.get_by_text("Still here: front.jpg.").wait_for(state="detached")


def test_a_phone_that_loads_the_page_anew_has_its_photos_and_its_half_typed_board(empty_lot, visit):
    page = visit(PHONE).page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(empty_lot.address.replace("/?", "/boards?"))
    field = page.get_by_test_id("stFileUploader").filter(has_text="Photos of face 1")
    photo = {"mimeType": "image/jpeg", "buffer": _photo_with_rule()}
    field.locator("input[type=file]").set_input_files(
        [photo | {"name": "front.jpg"}, photo | {"name": "back.jpg"}]
    )
    page.get_by_text("Board 1: face 1 front.jpg, face 2 back.jpg").wait_for()
    page.get_by_label("Species").first.fill("walnut")
    page.get_by_text("Type boards in, without photos").click()
    page.get_by_label("Width", exact=True).fill("7 1/4 in")
    page.get_by_label("Width", exact=True).press("Tab")
    settle(page)
    for _ in range(2):
        page.reload()
        page.get_by_text("Still here: front.jpg, back.jpg.").wait_for()
        page.get_by_text("Board 1: face 1 front.jpg, face 2 back.jpg").wait_for()
        settle(page)
        assert page.get_by_label("Species").first.input_value() == "walnut"
        assert page.get_by_label("Width", exact=True).input_value() == "7 1/4 in"
    page.get_by_role("button", name="Take them out").click()
    page.get_by_text("Still here").wait_for(state="detached")
    settle(page)
    page.reload()
    page.get_by_label("Width", exact=True).wait_for()
    settle(page)
    assert not page.get_by_text("Still here").is_visible()
