"""No tap is lost in a dry fit, nor where two layouts are compared, while a layout gets ready."""

from dataclasses import replace

import pytest

from scanner.app.fitting.fit_in_lot import fit_view
from tests.ui.page_runs import button_of, go_to, words_of
from ui import desks
from ui.place import sample_lot
from ui.side_pages import SIDE_PAGES

_UNMATCHED = "the least waste: without matched sets"


@pytest.fixture
def lot(sample):
    return desks.desk_of(sample_lot()).lot


@pytest.fixture
def just_ready(monkeypatch):
    """Return what makes a layout ready just after the next run of the page began."""

    def begin():
        goes_on = iter([True])
        monkeypatch.setattr(desks.Desk, "follow", lambda desk: next(goes_on, False))

    return begin


def _faces(layout):
    return {(p.part, p.copy): p.show_face for p in layout.placements}


@pytest.mark.slow
def test_a_tap_on_a_piece_just_as_the_layout_is_ready_is_heard(sample, lot, just_ready):
    page = go_to(sample, "fit")
    title = page.selectbox[0].value
    just_ready()
    page = button_of(page, "Turn 1 end for end").click().run()
    assert not page.exception and not page.error
    assert "end B at the left" in words_of(page)
    # So is the next one, with nothing in between.
    button_of(page, "Turn 2 end for end").click().run()
    assert [one.lies.split(", ")[1] for one in fit_view(lot, title).pieces[:2]] == [
        "end B at the left", "end B at the left",
    ]  # fmt: skip


@pytest.fixture
def compared(sample, lot, monkeypatch):
    """The layout beside the one before it: there parts showed the other face."""
    now = lot.layout().layout
    over = [replace(p, show_face=3 - p.show_face) if p.show_face else p for p in now.placements]
    before = replace(now, placements=tuple(over))
    for one in (before, now):
        lot.save_layout(one, lot.revision)
    # The judge has tests of its own; this layout is small and drawn by hand.
    monkeypatch.setattr("scanner.placement.validator.judge.validate_layout", lambda *given: ())
    page = go_to(sample, "layout")
    toggle = next(one for one in page.toggle if one.label == "Compare with another layout")
    return toggle.set_value(True).run(), before


@pytest.mark.slow
def test_a_tap_to_go_back_just_as_the_layout_is_ready_is_heard(compared, lot, just_ready):
    page, before = compared
    just_ready()
    page = button_of(page, "Go back to that one").click().run()
    assert not page.exception and not page.error
    assert _faces(lot.layout().layout) == _faces(before)


@pytest.mark.slow
def test_a_tap_just_as_the_other_layout_is_made_is_heard(compared, monkeypatch):
    page, before = compared
    monkeypatch.setattr("ui.views.compare.has_matches", lambda lot: True)
    monkeypatch.setattr(desks.Desk, "compare", lambda desk: None)
    answers = iter([])
    monkeypatch.setattr(desks.Desk, "rival", property(lambda desk: next(answers, before)))
    page = page.run()
    choice = next(one for one in page.selectbox if one.label == "Compare with")
    page = choice.set_value(_UNMATCHED).run()
    assert "Without matches." in words_of(page)
    # It is not there as the page looks first, and there a line further down.
    answers = iter([None])
    side = next(one for one in SIDE_PAGES if one.beside == "layout")
    page = button_of(page, side.title).click().run()
    assert not page.exception
    assert [one.value for one in page.header] == [side.title]
