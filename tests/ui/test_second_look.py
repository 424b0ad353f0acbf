"""The pages beside the steps that look again: put together, ends, milling, savings."""

from datetime import date
from functools import partial
from urllib.parse import quote

import pytest

from scanner.app.cutting.milling_in_lot import batch_views, milled_parts
from scanner.app.fitting import fit_by_hand
from scanner.app.placing import save_a_board
from tests.ui.page_runs import button_of, go_to, words_of
from tests.ui.test_downloads import _get
from ui import desks
from ui.downloads import fit_url, milling_url
from ui.place import sample_lot


@pytest.fixture
def lot(sample):
    return desks.desk_of(sample_lot()).lot


def text_in(page, label):
    return next(field for field in page.text_input if label in field.label)


def test_a_piece_is_turned_by_a_button_and_the_layout_stays(sample, lot):
    page = go_to(sample, "fit")
    assert not page.exception
    assert "end A at the left" in words_of(page)
    before = lot.layout().revision == lot.revision
    page = button_of(page, "Turn 1 end for end").click().run()
    assert not page.exception and not page.error
    assert "end B at the left" in words_of(page)
    assert (lot.layout().revision == lot.revision) is before


def test_a_slide_that_cannot_be_is_refused_with_the_reason(sample, lot, monkeypatch):
    page = go_to(sample, "fit")
    page = text_in(page, "Slide 1").set_value("5 m").run()
    assert not page.exception
    assert any("may not lie there" in one.value for one in page.error)
    # What was typed stands there to be mended, with the reason below it, until it is.
    page = page.run()
    assert text_in(page, "Slide 1").value == "5 m"
    assert any("may not lie there" in one.value for one in page.error)
    # The same words may be tried again, as what is in the way may be gone; done, they are gone too.
    tried = []
    monkeypatch.setattr(fit_by_hand, "slide", lambda *asked: tried.append(asked[2:]))
    page = button_of(page, "Try again to slide 1").click().run()
    assert not page.exception and not page.error
    assert (tried, text_in(page, "Slide 1").value) == ([(1, "5 m")], "")


@pytest.mark.slow
def test_a_slide_by_nothing_is_done_once(sample, lot):
    """The piece lay where it had lain, its field too, and every run of the page slid it again."""
    revision = lot.revision
    page = text_in(go_to(sample, "fit"), "Slide 1").set_value("0 mm").run()
    assert not page.exception and text_in(page, "Slide 1").value == ""
    assert lot.revision <= revision + 1


def test_an_end_is_ticked_with_what_came_off(sample, lot):
    page = go_to(sample, "ends")
    assert "2 of 4 ends looked at" in words_of(page)
    field = text_in(page, "Came off B01, end A")
    page = field.set_value("40 mm").run()
    assert not page.exception and not page.error
    assert lot.board("B01").ends["A"].looked_over
    assert lot.board("B01").ends["A"].trim_mm == 40.0


@pytest.mark.slow
def test_a_pass_is_ticked_and_after_the_rest_the_page_asks_to_measure(sample, lot):
    page = go_to(sample, "milling")
    # Names on the end grain, ticks and triangles, before what is chalked is planed off.
    assert "on the end grain, with a tick" in words_of(page)
    assert any("Tick at face" in one.value for one in page.markdown)
    assert "NOT LOOKED OVER: B01" in words_of(page)
    first = page.checkbox[1] if "stickers" in page.checkbox[0].label else page.checkbox[0]
    page = first.check().run()
    assert not page.exception and not page.error
    assert batch_views(lot)[0].steps[0].done == date.today().isoformat()


@pytest.mark.slow
def test_a_day_of_glue_up_is_kept_and_no_day_is_refused(sample, lot):
    page = go_to(sample, "milling")
    field = next(one for one in page.text_input if "is glued on" in one.label)
    name = field.label.removesuffix(" is glued on")
    page = field.set_value("soon").run()
    assert "is no date" in page.error[0].value
    page = text_in(page, f"{name} is glued on").set_value("2027-03-01").run()
    assert not page.exception and not page.error
    assert dict(milled_parts(lot))[name] == date(2027, 3, 1)


@pytest.mark.slow
def test_savings_are_looked_for_as_work_and_kept_beside_the_layout(sample, lot, monkeypatch):
    lot.save_layout(lot.layout().layout, lot.revision)
    monkeypatch.setattr(save_a_board, "TRIALS", 1)
    page = button_of(go_to(sample, "saving"), "Look for savings").click().run()
    desks.desk_of(sample_lot()).job.wait(240)
    page = page.run()
    assert not page.exception
    assert "layouts were tried" in words_of(page)


@pytest.mark.slow
def test_sheets_are_fetched_by_plain_links(sample, lot):
    name = lot.path.stem
    title = go_to(sample, "fit").selectbox[0].value
    fits = partial(fit_url, group=title, kind="pdf")
    for url, query, head in (
        (fits, f"group={quote(title)}&kind=pdf", b"%PDF"),
        (fits, f"group={quote(title)}&kind=png", b"\x89PNG"),
        (milling_url, "", b"%PDF"),
    ):
        answer = _get(name, url, query.encode())
        assert answer.status_code == 200 and answer.body.startswith(head)
    assert _get(name, fits, b"group=no+such+group").status_code == 409
    assert _get("../other", milling_url).status_code == 404
