"""What is tapped is heard once, whatever comes in between; without a browser."""

import pytest
from streamlit.testing.v1 import AppTest

from scanner.board.flaw import FlawState
from tests.ui.page_runs import MAIN, PATIENCE_S, button_of, go_to, sent_to, words_of
from ui import desks
from ui.place import sample_lot
from ui.side_pages import SIDE_PAGES


def _strikes_f5(lot):
    """Return what a window sends that strikes F5 of B01."""
    op = {
        "id": "window-a-1", "client": "window-a", "base": lot.revision,
        "verb": "strike", "board": "B01", "flaw": "F5",
    }  # fmt: skip
    return {"outbox": {"n": "1", "ops": [op]}}


def _f5(lot):
    return next(flaw for flaw in lot.board("B01").flaws if flaw.id == "F5")


def test_a_tap_on_the_road_goes_to_the_step_once(sample):
    sample.session_state["road"] = {"page": {"n": "1", "name": "layout"}}
    page = sample.run()
    assert sent_to(page, "steps")["here"] == "layout"
    page = go_to(page, "boards")
    page.session_state["road"] = {"page": {"n": "1", "name": "layout"}}
    assert sent_to(page.run(), "steps")["here"] == "boards"


def test_a_run_that_comes_between_a_tap_and_its_page_does_not_lose_the_tap(sample):
    # The browser asked for the old page once more before it heard of the new one.
    sample.session_state["going-to"] = ("layout", {"lot": "demo"})
    page = sample.run()
    assert sent_to(page, "steps")["here"] == "layout"
    assert "going-to" not in page.session_state


def test_a_wish_of_an_earlier_visit_is_not_followed(sample, home):
    # What a browser tells a restarted server: where it once wanted to go.
    page = AppTest.from_file(str(MAIN), default_timeout=PATIENCE_S)
    page.query_params["lot"] = "demo"
    page.session_state["road"] = {"page": {"n": "1", "name": "layout"}}
    assert sent_to(page.run(), "steps")["here"] == "flaws"


def test_what_was_said_before_the_page_was_left_arrives_from_the_next(sample):
    page = go_to(sample, "layout")
    lot = desks.desk_of(sample_lot()).lot
    page.session_state["road"] = _strikes_f5(lot)
    page.run()
    assert _f5(lot).state is FlawState.STRUCK
    assert sent_to(page, "steps")["answers"] == ["window-a-1"]


@pytest.mark.slow
def test_a_tap_just_as_a_scan_ends_is_heard(sample):
    page = go_to(sample, "boards")
    desk = desks.desk_of(sample_lot())
    desk.job = desks.Job("Scanning", lambda report: None)
    desk.job.wait(PATIENCE_S)
    page = button_of(page, "Take B02 out").click().run()
    assert [board.id for board in desk.lot.boards()] == ["B01"]
    assert desk.job is None and not page.exception


@pytest.mark.slow
@pytest.mark.parametrize("step", ["flaws", "layout", "cut"])
def test_a_tap_just_as_the_layout_is_ready_is_heard(sample, step, monkeypatch):
    page = go_to(sample, step)
    side = next(one for one in SIDE_PAGES if one.beside == step or step == "flaws")
    # It was being made as the page began to be drawn, and is there one line further down.
    goes_on = iter([True])
    monkeypatch.setattr(desks.Desk, "follow", lambda desk: next(goes_on, False))
    button = "Go on to the layout" if step == "flaws" else side.title
    page = button_of(page, button).click().run()
    there = sent_to(page, "steps")["here"], [one.value for one in page.header]
    assert there == (("layout", []) if step == "flaws" else (step, [side.title]))


def test_what_the_browser_sends_is_kept_and_answered(sample):
    lot = desks.desk_of(sample_lot()).lot
    sample.session_state["board-view"] = _strikes_f5(lot)
    sample.run()
    assert not sample.exception
    assert _f5(lot).state is FlawState.STRUCK
    sent = sent_to(sample)
    assert [answer["status"] for answer in sent["answers"]] == ["done"]
    assert sent["undo"] == "B01: F5 is no flaw"
    assert "the parts are being placed again" in words_of(sample)
