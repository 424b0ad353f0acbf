"""The guides in the page's help: each is there, and what they point at is too."""

import pytest

from scanner.app.find_guides import GUIDES, find_guide
from tests.ui.page_runs import button_of, page_at, words_of

pytestmark = pytest.mark.slow


def test_every_guide_is_read_in_the_help_and_the_way_leads_back(sample):
    lot = sample.title[0].value
    page = button_of(sample, "Help").click().run()
    for name, title in GUIDES.items():
        page.radio[0].set_value(name).run()
        assert not page.exception and not page.error, title
        first = find_guide(name).read_text("utf-8").partition("\n")[0]
        assert f"# {page.header[0].value}" == first
        # Nothing that leads nowhere: a link to a file, a picture's mark.
        assert ".md)" not in words_of(page) and "![" not in words_of(page)
    page = button_of(page, f"Back to {lot}").click().run()
    assert not page.exception and page.title[0].value == lot


def test_help_is_read_without_a_lot(home):
    page = button_of(page_at(home), "Help").click().run()
    assert not page.exception
    assert page.header[0].value == "On this page"
