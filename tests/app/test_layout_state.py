"""How good a layout can get is said in words that its bound bears out."""

from dataclasses import replace

import pytest

from scanner.app.lot.name_wood import name_wood
from scanner.app.lot.open_lot import new_stamp, open_lot
from scanner.app.placing.layout_state import layout_view, so_far, worse_words
from scanner.placement.layout import Bound
from tests import common


def _said(tmp_path, of, gap):
    lot = open_lot(tmp_path / "bench.lot")
    layout = replace(common.small_layout(), bound=Bound(of, "any", 1.0, gap))
    lot.save_layout(layout, lot.revision)
    try:
        return layout_view(lot).bound
    finally:
        lot.close()


@pytest.mark.parametrize(
    ("of", "gap", "says"),
    [
        ("value", 0.0, "can place more."),
        # 0.8 of the bound is placed: a quarter more would reach it.
        ("value", 0.2, "At most 25 % more could be placed"),
        # No tenth of a per cent is told of what may be many times as much.
        ("value", 0.75, "At most 300 % more could be placed"),
        ("area", 0.0, "no layout can do it with less wood"),
        ("area", 0.2, "less than 80 % of this wood"),
    ],
)
def test_the_bound_is_said_as_what_could_still_be_gained(tmp_path, of, gap, says):
    assert says in _said(tmp_path, of, gap)


def test_a_lot_without_a_layout_says_nothing_of_it(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    assert layout_view(lot).lines == () and layout_view(lot).standing == "none"
    lot.close()


def _place(lot, layout, typed=None):
    """Say what wood the board is, which is a new state of the lot, and keep its layout."""
    if typed is not None:
        name_wood(lot, "B01", typed)
    lot.save_layout(layout, lot.revision)


def test_a_worse_layout_names_the_one_that_undo_brings_back(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), new_stamp(lot))
    good = common.small_layout()
    dearer = replace(good.summary, board_feet=good.summary.board_feet + 4.0)
    poor = replace(good, summary=dearer)
    _place(lot, good)
    assert worse_words(lot) == ""
    _place(lot, poor, "oak")
    assert worse_words(lot) == f"The layout before: {so_far(good)}. Undo brings it back."
    lot.undo(new_stamp(lot))
    assert lot.layout().layout == good and worse_words(lot) == ""
    # Another list is another question.
    _place(lot, replace(good, summary=replace(dearer, asked=99)), "elm")
    assert worse_words(lot) == ""
    lot.close()


def test_a_better_layout_that_undo_does_not_bring_back_is_not_named(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), new_stamp(lot))
    good = common.small_layout()
    dearer = replace(good.summary, board_feet=good.summary.board_feet + 4.0)
    poor = replace(good, summary=dearer)
    _place(lot, poor)
    # Of a state that was undone, and then given up for another.
    _place(lot, good, "oak")
    lot.undo(new_stamp(lot))
    _place(lot, poor, "elm")
    assert worse_words(lot) == ""
    # Of the very same state: undo leads to the one before that.
    _place(lot, good)
    _place(lot, poor)
    assert worse_words(lot) == ""
    lot.close()
