"""Pages that rest on a layout say when it is older than what was said since."""

import pytest

from scanner.app.lot.open_lot import new_stamp
from scanner.app.nodding.review_flaws import strike
from scanner.storage.lots import Action
from tests.ui.page_runs import go_to
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)

_OLD = "What stands below is of the layout before"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["ends", "milling", "stock", "saving", "marks"])
def test_a_page_says_that_its_layout_is_outdated(sample, lot, name):  # noqa: F811
    assert _OLD not in _told(go_to(sample, name))
    lot.record(Action(new_stamp(lot), "B01", "struck", lambda board: strike(board, "F5")))
    assert _OLD in _told(go_to(sample, name))


def _told(page):
    assert not page.exception
    return " ".join(said.value for said in page.warning)
