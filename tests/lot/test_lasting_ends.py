"""What an end may lose before a part is lost, and where that part goes."""

from dataclasses import replace

import pytest

from scanner.board.board import End
from scanner.lot.lasting_ends import end_losses
from scanner.placement.layout import Bound, Layout, Placement, Summary
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.validator.dropped import dropped_objections
from tests.common import plain_board

SHOP = Shop()
RAIL = Part("rail", 2, 400.0, 60.0, 19.0, Faces.BOTH)
BOARD = plain_board(length_mm=1200.0)


def layout_of(*placements):
    return Layout(
        "three_stage_trimmed", 3.2, 1, 0, placements, (), (), (), (),
        Summary(len(placements), len(placements), 1, 1.0, 1.0, 0.5), Bound("value", "any", 0, 0),
    )  # fmt: skip


def rail(copy, x, y=5.0, board="P01"):
    # An end that was looked at loses 12 mm; 20 mm are free beyond that.
    return Placement("rail", copy, board, x, y, 425.0, 72.0, margin_mm=2.0)


def losses(placements, boards=(BOARD,), parts=(RAIL,)):
    found = end_losses(layout_of(*placements), boards, parts, SHOP)
    return {(one.board, one.end, one.loss_mm): one for one in found}


def test_an_end_with_room_loses_nothing():
    found = losses([rail(1, 36.0)])
    assert found["P01", "A", 12.0].moves == ()
    assert found["P01", "B", 300.0].moves == ()


def test_a_part_that_is_lost_moves_along_the_board():
    found = losses([rail(1, 36.0)])
    (move,) = found["P01", "A", 50.0].moves
    assert move.lost.x_mm == 36.0
    assert move.to.board == "P01" and move.to.x_mm >= 12.0 + 50.0
    assert found["P01", "A", 50.0].survives


@pytest.mark.parametrize("loss", [12.0, 50.0, 300.0])
def test_what_moves_may_lie_where_it_goes(loss):
    placements = [rail(1, 16.0), rail(2, 600.0)]
    assert losses(placements)["P01", "A", loss].moves
    for end in "AB":
        found = losses(placements)["P01", end, loss]
        shorter = replace(BOARD, ends={**BOARD.ends, end: End(looked_over=True, trim_mm=12 + loss)})
        lost = [move.lost for move in found.moves]
        staying = [p for p in placements if p not in lost]
        for move in found.moves:
            assert move.to is not None
            assert not list(dropped_objections(move.to, staying, RAIL, shorter, SHOP))
            staying.append(move.to)


def test_a_part_without_another_place_is_lost_for_good():
    short = plain_board(length_mm=470.0, width_mm=80.0)
    found = losses([rail(1, 20.0, y=4.0)], (short,))["P01", "A", 300.0]
    assert [move.to for move in found.moves] == [None]
    assert not found.survives


def test_it_goes_to_another_board_that_is_opened_already():
    short = plain_board(length_mm=470.0, width_mm=80.0)
    other = plain_board("P02", length_mm=1200.0)
    placements = [rail(1, 20.0, y=4.0), rail(2, 36.0, board="P02")]
    found = losses(placements, (short, plain_board("P03"), other))["P01", "A", 300.0]
    assert [move.to.board for move in found.moves] == ["P02"]


def test_a_larger_loss_takes_all_that_a_smaller_one_takes():
    found = losses([rail(1, 16.0), rail(2, 300.0, y=90.0)])
    taken = [{m.lost for m in found["P01", "A", loss].moves} for loss in (12.0, 50.0, 300.0)]
    assert taken[0] <= taken[1] <= taken[2] and len(taken[2]) == 2


def test_what_is_cut_lies_on_no_board_any_more():
    assert losses([replace(rail(1, 16.0), state="cut")]) == {}


def test_a_member_of_a_set_does_not_move_alone():
    parts = (replace(RAIL, match="pair"),)
    (move,) = losses([rail(1, 16.0)], parts=parts)["P01", "A", 50.0].moves
    assert move.to is None and move.set_moves


def test_an_inch_shop_asks_for_whole_inches():
    found = end_losses(layout_of(rail(1, 36.0)), (BOARD,), (RAIL,), Shop.inch())
    inches = [one.loss_mm / 25.4 for one in found if one.end == "A"]
    assert inches == pytest.approx([0.5, 2.0, 12.0])
