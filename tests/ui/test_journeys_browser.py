"""Two journeys from end to end: hold two layouts against each other, three boards against the tape.

And photos that are paired before they are scanned.
"""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from scanner.app.lot.open_lot import new_stamp, open_lot
from scanner.app.lot.trust_test import PHONES
from scanner.app.placing.place_again import plan_lot
from scanner.board.measured import Measured
from scanner.files.camera_profiles import PhoneProfile, write_profiles
from scanner.placement.stop import Work
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from tests import common
from tests.ui.conftest import DESK, PHONE, settle, until, wider_than_screen

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])


def _press(target, size):
    target.tap() if size is PHONE else target.click()


def _step(lot, name):
    return lot.address.replace("/?", f"/{name}?")


@_SIZES
def test_two_layouts_are_held_against_each_other_and_the_former_comes_back(lot, visit, size):
    kept = open_lot(lot.file)
    plan_lot(kept, Work(200))
    former = kept.layout().layout
    kept.save_layout(common.small_layout(), kept.revision)
    kept.close()
    window = visit(size)
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(_step(lot, "layout"))
    page.locator(".laid").first.wait_for()
    settle(page)
    _press(page.get_by_text("Compare with another layout"), size)
    page.get_by_text("As it is planned.").wait_for()
    page.get_by_text("The one before.").wait_for()
    # Both are drawn, each with the boards that it opens.
    sheets = page.locator(".bench.layout")
    page.wait_for_function(
        "() => [...document.querySelectorAll('*')]"
        ".filter(node => node.shadowRoot?.querySelector('.bench.layout .part')).length === 2"
    )
    assert sheets.count() == 2
    wide = wider_than_screen(page)
    assert wide <= 0
    settle(page)
    _press(page.get_by_role("button", name="Go back to that one"), size)
    page.get_by_role("button", name="Go on to cutting").wait_for()
    until(page, lambda: _places(_layout(lot)) == _places(former))
    assert window.problems == []


def _layout(lot):
    kept = open_lot(lot.file)
    try:
        return kept.layout().layout
    finally:
        kept.close()


def _places(layout):
    return {(p.part, p.copy, p.x_mm) for p in layout.placements}


@_SIZES
def test_three_boards_are_held_against_the_tape(lot, visit, size):
    kept = open_lot(lot.file)
    third = replace(common.ash_board(), id="B03", length=Measured(2440.0, 4.0))
    kept.save_board(third, new_stamp(kept))
    lengths = {board.id: board.length.value_mm for board in kept.boards()}
    lens = LensEvidence(Phone("Maker Phone 7", 26, (4032, 3024)), np.eye(4), np.zeros(4))
    kept.folder.mkdir(exist_ok=True)
    write_profiles(kept.folder / PHONES, [PhoneProfile(lens, tuple(lengths))])
    kept.close()
    window = visit(size)
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(_step(lot, "boards"))
    page.get_by_role("button", name="Three boards against the tape").wait_for()
    settle(page)
    _press(page.get_by_role("button", name="Three boards against the tape"), size)
    for count, (board, length) in enumerate(lengths.items()):
        page.get_by_text(f"{count} of 3 boards taped.").wait_for()
        settle(page)
        field = page.get_by_label(f"Length of {board} by tape")
        field.fill(f"{length:.0f} mm")
        field.press("Enter")
    page.get_by_text("U held on all 3 boards taped so far with Maker Phone 7.").wait_for()
    page.reload()
    page.get_by_text("U held on all 3 boards taped so far with Maker Phone 7.").wait_for()
    settle(page)
    _press(page.get_by_role("button", name="Back to Boards"), size)
    page.get_by_text("By tape: U held on all 3 boards").wait_for()
    assert window.problems == []


def _photo(tone):
    file = io.BytesIO()
    Image.new("RGB", (800, 600), (tone, 90, 80)).save(file, "JPEG")
    return file.getvalue()


@_SIZES
def test_photos_are_looked_at_as_they_come_and_pairs_can_be_changed(empty_lot, visit, size):
    window = visit(size)
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(_step(empty_lot, "boards"))
    photos = [
        {"name": f"{name}.jpg", "mimeType": "image/jpeg", "buffer": _photo(tone)}
        for name, tone in (("a", 60), ("b", 90), ("c", 120), ("d", 150))
    ]
    page.locator("input[type=file]").first.set_input_files(photos)
    page.get_by_text("Board 1: face 1 a.jpg, face 2 b.jpg").wait_for()
    # No rule lies in any of them: said at once, each by its name.
    page.get_by_text("d.jpg: This photo will not do.").wait_for()
    settle(page)
    _press(page.get_by_role("button", name="Swap the faces").first, size)
    page.get_by_text("Board 1: face 1 b.jpg, face 2 a.jpg").wait_for()
    # Until the page has run to its end it shows what it is about to take away as well.
    settle(page)
    page.get_by_text("Put a photo of board 2 elsewhere").click()
    # A list of choices closes again if the page still scrolls to it.
    page.get_by_label("d.jpg shows").scroll_into_view_if_needed()
    settle(page)
    page.get_by_label("d.jpg shows").click()
    page.get_by_role("option", name="board 1, face 2").click()
    page.get_by_text("Board 1: face 1 b.jpg, face 2 a.jpg and d.jpg").wait_for()
    page.get_by_text("Board 2: face 1 c.jpg, face 2 is missing").wait_for()
    wide = wider_than_screen(page)
    assert wide <= 0
    assert window.problems == []
