"""A fresh end is trimmed, photographed and ticked on one page."""

import pytest

from scanner.app.later import end_in_lot
from scanner.app.lot.later_photo import keep_made, note
from scanner.board.board import End
from scanner.board.ring_facts import RingFacts, RingStation
from scanner.storage.values import to_document
from tests.common import ash_board, flat_picture
from tests.ui.page_runs import button_of, go_to
from tests.ui.test_second_look import lot, text_in  # noqa: F401 (a fixture)


@pytest.mark.slow
def test_an_end_is_ticked_with_the_photo_of_its_fresh_face(sample, lot):  # noqa: F811
    picture = keep_made(lot, flat_picture(ash_board(), 1), "end")
    stations = tuple(RingStation(y, 8.0, 3.0, "+") for y in (15.0, 45.0, 75.0, 105.0, 135.0))
    facts = RingFacts("A", 150.0, 27.0, stations, None, 2)
    kept = end_in_lot.KeptEnd("B01", "A", picture, picture, picture, (150.0, 27.0), facts)
    note(lot, "end-B01-A", to_document(kept), "looked at an end")
    page = text_in(go_to(sample, "end_grain"), "fresh face is clean").set_value("5 m").run()
    page = button_of(page, "Yes, that is right").click().run()
    assert "more than half of B01" in page.error[0].value
    assert not lot.board("B01").ends["A"].looked_over
    page = text_in(page, "fresh face is clean").set_value("35 mm").run()
    page = button_of(page, "Yes, that is right").click().run()
    assert "You agreed" in page.success[0].value and not page.error
    assert lot.board("B01").ends["A"] == End(looked_over=True, trim_mm=35.0)
    assert any("heart side is face 2" in said for said in lot.board("B01").notes)
