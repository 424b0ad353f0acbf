"""The pages for later photos of a board: what waits for a photo, and for a nod."""

import pytest

from scanner.app.cutting.marks_in_lot import KeptMarks, mark_of_parts
from scanner.app.later import end_in_lot
from scanner.app.lot.later_photo import keep_made, note
from scanner.board.ring_facts import RingFacts, RingStation
from scanner.storage.values import to_document
from tests.common import ash_board, flat_picture
from tests.ui.page_runs import button_of, go_to, words_of
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("name", "button", "missing"),
    [
        ("marks", "Look at my lines", "no photo"),
        ("piece", "Find it again", "no photo"),
        ("end_grain", "Read the rings", "no photo"),
        ("edge", "Read the edge", "no photo"),
    ],
)
def test_without_a_photo_the_page_asks_for_one(sample, name, button, missing):
    page = go_to(sample, name)
    assert not page.exception
    page = button_of(page, button).click().run()
    assert not page.exception
    assert any(missing in one.value for one in page.error)


def test_mistakes_in_the_marks_are_said_until_the_layout_changes(sample, lot):  # noqa: F811
    picture = keep_made(lot, flat_picture(ash_board(), 1), "marks")
    placed = mark_of_parts(lot, "B01")
    said = ("rail 1: the line for the lower edge is 9 mm too near the upper edge",)
    kept = KeptMarks("B01", 1, picture, "a.jpg", picture, said, 16, True, placed)
    note(lot, "marks-B01", to_document(kept), "looked at the marks")
    page = go_to(sample, "marks")
    assert not page.exception
    assert "mend this before you saw" in page.error[0].value
    assert "9 mm too near the upper edge" in words_of(page)
    old = to_document(KeptMarks("B01", 1, picture, "a.jpg", picture, (), 16, True, "other"))
    note(lot, "marks-B01", old, "looked at the marks")
    page = page.run()
    assert "placed again since" in page.warning[0].value


def test_an_end_is_agreed_with_on_the_page(sample, lot):  # noqa: F811
    picture = keep_made(lot, flat_picture(ash_board(), 1), "end")
    stations = tuple(RingStation(y, 8.0, 3.0, "+") for y in (15.0, 45.0, 75.0, 105.0, 135.0))
    facts = RingFacts("A", 150.0, 27.0, stations, None, 2)
    kept = end_in_lot.KeptEnd("B01", "A", picture, picture, picture, (150.0, 27.0), facts)
    note(lot, "end-B01-A", to_document(kept), "looked at an end")
    page = go_to(sample, "end_grain")
    assert not page.exception
    assert "face 1 cups hollow" in words_of(page)
    page = button_of(page, "Yes, that is right").click().run()
    assert "You agreed" in page.success[0].value
    assert any("heart side is face 2" in said for said in lot.board("B01").notes)
