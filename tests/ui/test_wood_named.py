"""The wood of a board is named on the page; what names no other wood is no action."""

import pytest

from tests.ui.page_runs import errors_of, go_to
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)

pytestmark = pytest.mark.slow


def _typed(page, text):
    field = next(one for one in page.text_input if one.label.startswith("Wood of B01"))
    return field.set_value(text).run()


def test_a_wood_is_named_once_and_spaces_make_no_other(sample, lot):  # noqa: F811
    page = go_to(sample, "boards")
    before = lot.revision
    page = _typed(page, " red  oak ")
    assert lot.board("B01").species == "red oak" and lot.revision == before + 1
    _typed(page, "red   oak")
    assert lot.revision == before + 1


def test_the_word_for_unnamed_wood_is_refused(sample, lot):  # noqa: F811
    before = lot.revision
    page = _typed(go_to(sample, "boards"), "Unknown")
    assert [error for error in errors_of(page) if "names no wood" in error]
    assert lot.revision == before
