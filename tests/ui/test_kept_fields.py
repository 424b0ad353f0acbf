"""What was typed beside photos stands there again after another page was looked at."""

import pytest

from tests.ui.test_buying_pages import text_in
from tests.ui.test_page import _go, home, sample  # noqa: F401 (fixtures)
from ui.uploads import BATTEN, STRIP_TAPED


@pytest.mark.slow
def test_the_strips_length_is_typed_once_for_every_page_that_asks_for_it(sample):  # noqa: F811
    page = _go(sample, "boards")
    page = text_in(page, STRIP_TAPED).set_value("2501 mm").run()
    page = text_in(page, BATTEN).set_value("18 mm").run()
    page = text_in(page, "Thickness (4/4, 1 1/16").set_value("5/4").run()
    page = _go(_go(page, "help"), "boards")
    assert not page.exception
    assert text_in(page, STRIP_TAPED).value == "2501 mm"
    assert text_in(page, "Thickness (4/4, 1 1/16").value == "5/4"
    for name in ("again", "marks", "piece"):
        page = _go(page, name)
        assert (text_in(page, STRIP_TAPED).value, text_in(page, BATTEN).value) == (
            "2501 mm",
            "18 mm",
        )
    # What is emptied stays empty.
    page = text_in(page, BATTEN).set_value("").run()
    assert text_in(_go(page, "boards"), BATTEN).value == ""
