"""From photos to lines on the wood, on a phone: every part of it the real one, nothing stood in."""

import pytest
from pypdf import PdfReader

from scanner.app.lot.open_lot import open_lot
from tests.ui.conftest import PHONE, settle, wider_than_screen
from tests.ui.marked_photo import SAMPLES, draw_on_sample, true_length_mm
from tests.ui.test_parts_browser import _PASTE

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 200_000
_FACE_1, _FACE_2 = "walnut-01-face1.jpg", "walnut-01-face2.jpg"
_PARTS = (
    "Part\tHow many\tLength\tWidth\tThickness\tFaces\tSpecies\n"
    "shelf\t1\t600\t130\t19\tsound\twalnut\nrail\t2\t420\t60\t19\tsound\twalnut"
)


def _step(page, name):
    _on_road(page, name).tap()
    page.locator(".road button[aria-current]").filter(has_text=name).wait_for()
    settle(page)


def _on_road(page, name):
    return page.locator(".road button").filter(has=page.get_by_text(name, exact=True))


def _read(lot, what):
    kept = open_lot(lot.file)
    try:
        return what(kept)
    finally:
        kept.close()


def _look_at_lines(page, lot, off_mm):
    placements = _read(lot, lambda kept: kept.layout().layout.placements)
    drawn = draw_on_sample(_FACE_1, placements, off_mm)
    photo = {"name": "lines.jpg", "mimeType": "image/jpeg", "buffer": drawn}
    page.locator("input[type=file]").set_input_files([photo])
    page.get_by_role("button", name="Remove lines.jpg").wait_for()
    settle(page)
    page.get_by_role("button", name="Look at my lines").tap()


def test_dropped_photos_become_a_board_with_parts_and_the_lines_drawn_for_them_are_judged(
    empty_lot, visit
):
    window = visit(PHONE)
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(empty_lot.address.replace("/?", "/parts?"))
    page.get_by_label("Part, row 1").evaluate(_PASTE, _PARTS)
    page.get_by_role("button", name="Keep this list").tap()
    page.get_by_text("Kept: 3 pieces.").wait_for()
    _step(page, "Boards")
    photos = [SAMPLES / _FACE_1, SAMPLES / _FACE_2]
    page.locator("input[type=file]").first.set_input_files(photos)
    page.get_by_text(f"{_FACE_2}: This photo").wait_for()
    page.get_by_label("Species").first.fill("walnut")
    page.get_by_label("Length of the strip as taped").first.fill("2501.5 mm")
    page.get_by_label("Thickness of the batten").first.fill("26 mm")
    page.keyboard.press("Tab")
    settle(page)
    page.get_by_role("button", name="Scan this board").tap()
    # Who looks at the parts meanwhile sees how far it is, and a reload loses nothing of it.
    page.get_by_text("How far it is stands at the top").wait_for()
    _on_road(page, "Parts").tap()
    page.get_by_text("Scanning: ").wait_for()
    page.reload()
    page.locator(".road button").filter(has_text="1 in the lot").wait_for()
    board = _read(empty_lot, lambda kept: kept.boards()[0])
    assert abs(board.length.value_mm - true_length_mm(_FACE_1)) <= board.length.u_mm
    assert {one for one in board.faces} == {1, 2} and board.flaws
    _step(page, "Layout")
    page.get_by_text("3 of 3 parts placed").first.wait_for()
    page.get_by_text("This layout is up to date.").wait_for()
    settle(page)
    _step(page, "Cut")
    with page.expect_download() as download:
        page.get_by_role("link", name="Board maps to print (PDF)").tap()
    words = " ".join(one.extract_text() for one in PdfReader(download.value.path()).pages)
    assert all(name in words for name in ("shelf", "rail 1", "rail 2"))
    page.get_by_role("button", name="Are my lines right?").tap()
    page.get_by_text("0 of 1 board").wait_for()
    settle(page)
    # The strip was taped for the scan; nobody types it again.
    assert page.get_by_label("Length of the strip as taped").input_value() == "2501.5 mm"
    _look_at_lines(page, empty_lot, {("shelf 1", "B"): 15.0})
    page.get_by_text("mend this before you saw").wait_for()
    settle(page)
    said = " ".join(page.locator("li").all_inner_texts())
    assert "the line for the end toward B is" in said and "too near end B" in said
    # Its lines are right, the one along the arris too.
    assert "rail 1" not in said
    assert wider_than_screen(page) <= 0
    # Mended and photographed again.
    page.get_by_text("Photograph B01 with its lines").tap()
    _look_at_lines(page, empty_lot, {})
    page.get_by_text("lines are where they belong").wait_for()
    page.get_by_text("Every board with parts is right.").wait_for()
    assert window.problems == []
