"""What was typed beside photos stands there again after another page was looked at."""

import pytest

from tests.ui.test_buying_pages import text_in
from tests.ui.test_page import (  # noqa: F401 (fixtures)
    _begin,
    _button,
    _choose,
    _go,
    _words,
    home,
    sample,
)
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


def form_of(page, label):
    return next(one for one in page.expander if one.label.startswith(label))


@pytest.mark.slow
def test_a_half_typed_board_is_still_there_after_a_look_at_another_page(home):  # noqa: F811
    page = _go(_begin(home, "typed"), "boards")
    assert not form_of(page, "Type boards in").proto.expanded
    for label, typed in (("Length", "8 ft"), ("Price", "38.50"), ("Flaws: kind", "knot 1")):
        form = form_of(page, "Type boards in")
        next(one for one in form.text_input if one.label.startswith(label)).set_value(typed)
        page = page.run()
    form = form_of(page, "Type boards in")
    form.checkbox[0].check().run()
    page = _go(_go(page, "help"), "boards")
    form = form_of(page, "Type boards in")
    assert form.proto.expanded and form.checkbox[0].value
    stands = [one.value for one in form.text_input if one.value]
    assert stands == ["8 ft", "4/4", "38.50", "knot 1"]


@pytest.mark.slow
def test_chosen_photos_are_still_there_after_a_look_at_another_page(home):  # noqa: F811
    page = _go(_begin(home, "photos"), "boards")
    page = (
        text_in(_choose(page, "front.jpg", "back.jpg"), "Length of the board as taped")
        .set_value("2440 mm")
        .run()
    )
    assert "Still here" not in _words(page)
    for _ in range(2):
        page = _go(_go(page, "help"), "boards")
        assert "Still here: front.jpg, back.jpg." in _words(page)
        assert "Board 1: face 1 front.jpg, face 2 back.jpg" in _words(page)
        assert text_in(page, "Length of the board as taped").value == "2440 mm"
    # Those in the field come after them, and what is taken out is gone for good.
    page = _choose(page, "other.jpg")
    assert "Board 2: face 1 other.jpg" in _words(page)
    page = _button(page, "Take them out").click().run()
    assert "front.jpg" not in _words(page) and "Board 1: face 1 other.jpg" in _words(page)
    page = _go(_go(page, "help"), "boards")
    assert "Still here: other.jpg." in _words(page)
