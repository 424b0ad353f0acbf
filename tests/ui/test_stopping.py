"""Work that is watched: a tap on "stop" is answered at once, whenever the work ends."""

import threading
from concurrent.futures import Future

import pytest

from tests.ui.page_runs import button_of, go_to, words_of
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)
from ui.desks import Job, desk_of


@pytest.mark.slow
def test_a_search_that_was_stopped_is_said_to_be_stopping(sample, lot, tmp_path):  # noqa: F811
    desk = desk_of(lot.path)
    search = Future()
    desk._planning, desk._watched, desk._is_long = search, tmp_path, True
    page = go_to(sample, "layout")
    assert "It goes on until you stop it" in words_of(page)
    page = button_of(page, "Stop, keep the best").click().run()
    assert not page.exception
    assert "Stopping" in words_of(page) and "until you stop it" not in words_of(page)
    page = page.run()
    assert button_of(page, "Stop, keep the best").disabled
    search.set_result(None)
    page = page.run()
    assert "Stopping" not in words_of(page)
    assert not button_of(page, "Improve while I watch").disabled


class _Work:
    """Work that tells how far it is whenever it is let go on, and then keeps what it found."""

    def __init__(self):
        self.go_on, self.kept = threading.Event(), []

    def __call__(self, tell):
        tell("trying sets of boards", 0.25)
        self.go_on.wait(10)
        tell("trying sets of boards", 0.5)
        self.kept.append("take B01")


@pytest.mark.parametrize(("may_stop", "kept"), [(True, []), (False, ["take B01"])])
def test_work_that_was_stopped_keeps_nothing_and_is_no_problem(may_stop, kept):
    work = _Work()
    job = Job("Looking which boards to take", work, may_stop=may_stop)
    job.stop()
    work.go_on.set()
    job.wait(10)
    assert not job.is_running and job.problem is None
    assert work.kept == kept


@pytest.mark.slow
def test_looking_which_boards_to_take_is_stopped_by_a_tap(sample, lot):  # noqa: F811
    desk, work = desk_of(lot.path), _Work()
    desk.job = Job("Looking which boards to take", work, may_stop=True)
    page = go_to(sample, "taking")
    page = button_of(page, "Stop").click().run()
    assert not page.exception
    assert button_of(page, "Stop").disabled and desk.job.is_stopping
    work.go_on.set()
    desk.job.wait(10)
    page = page.run()
    assert desk.job is None and work.kept == []
    assert not button_of(page, "Which boards to take?").disabled


@pytest.mark.slow
def test_a_scan_offers_no_stop(sample, lot):  # noqa: F811
    desk, work = desk_of(lot.path), _Work()
    desk.job = Job("Scanning", work)
    page = go_to(sample, "taking")
    assert not any(one.label == "Stop" for one in page.button)
    work.go_on.set()
    desk.job.wait(10)
