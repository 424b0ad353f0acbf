"""A search that is watched: a tap on "stop" is answered at once, whenever the search ends."""

from concurrent.futures import Future

import pytest

from tests.ui.page_runs import button_of, go_to, words_of
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)
from ui.desks import desk_of


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
