"""How good a layout can get is said in words that its bound bears out."""

from dataclasses import replace

import pytest

from scanner.app.layout_state import layout_view, so_far, worse_words
from scanner.app.open_lot import open_lot
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
        ("value", 0.2, "more than 25 % more"),
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


def test_a_worse_layout_names_the_one_before(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    before = common.small_layout()
    dearer = replace(before.summary, board_feet=before.summary.board_feet + 4.0)
    lot.save_layout(before, lot.revision)
    assert worse_words(lot) == ""
    lot.save_layout(replace(before, summary=dearer), lot.revision)
    assert worse_words(lot) == f"The layout before: {so_far(before)}. Undo brings it back."
    lot.save_layout(before, lot.revision)
    assert worse_words(lot) == ""
    # Another list is another question.
    lot.save_layout(replace(before, summary=replace(dearer, asked=99)), lot.revision)
    assert worse_words(lot) == ""
    lot.close()
