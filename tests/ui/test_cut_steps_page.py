"""The page "Cut" names a saw for each cut and what may jump there."""

import pytest

from tests.ui.page_runs import go_to, words_of


@pytest.mark.slow
def test_the_cut_page_says_which_saw_for_which_cut_and_what_to_mind(sample):
    page = go_to(sample, "cut")
    assert not page.exception
    said = words_of(page)
    assert "| **1** | 150 mm | piece 1 starts; end A comes off" in said
    assert "2. Along piece 1" in said and "band saw; no table saw yet" in said
    assert "mind: to a line" in said and "saw to a chalk line without a fence" in said
    assert "manual of your machine comes first" in said
    choice = next(one for one in page.selectbox if one.label == "Cuts of board")
    assert choice.set_value("B02").run().selectbox and not page.exception
