"""Parts that show leave ends nobody looked at where that costs nothing."""

from dataclasses import replace

import pytest

from scanner.board.board import End
from scanner.lot.doubtful_ends import doubtful_span, free_exchanges, lies_at
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.validator.dropped import dropped_objections
from tests.common import plain_board
from tests.lot.laid import layout_of

SHOP = Shop()
RAIL = Part("rail", 1, 400.0, 60.0, 19.0, Faces.BOTH)
CLEAT = Part("cleat", 2, 400.0, 60.0, 19.0, Faces.HIDDEN)


def unseen(board, *ends):
    return replace(board, ends={**board.ends, **{end: End() for end in ends}})


def at(part, copy, x, y=5.0, board="P01"):
    return Placement(part, copy, board, x, y, 425.0, 72.0, margin_mm=2.0)


def test_the_doubtful_stretch_is_longer_in_oak_and_walnut():
    ash, walnut = (unseen(plain_board(species=s), "A", "B") for s in ("white ash", "walnut"))
    assert doubtful_span(ash, "A", SHOP) == (0.0, 150.0)
    assert doubtful_span(walnut, "A", SHOP) == (0.0, 350.0)
    assert doubtful_span(walnut, "B", SHOP) == (2438.4 - 350.0, 2438.4)
    assert doubtful_span(plain_board(), "A", SHOP) is None


def test_a_part_that_shows_moves_out_of_the_doubtful_stretch():
    board = unseen(plain_board(), "A")
    (move,) = free_exchanges(layout_of(at("rail", 1, 60.0)), (board,), (RAIL,), SHOP)
    assert (move.end, move.other) == ("A", None)
    assert move.to.x_mm >= 150.0 and lies_at(move.to, board, SHOP) == ""


def test_a_hidden_part_takes_its_place_where_there_is_no_other():
    # Room for two of 425 mm along the board and no more.
    board = unseen(plain_board(length_mm=930.0, width_mm=80.0), "A")
    rail, cleat = at("rail", 1, 55.0, 3.5), at("cleat", 1, 490.0, 3.5)
    (move,) = free_exchanges(layout_of(rail, cleat), (board,), (RAIL, CLEAT), SHOP)
    assert move.other == cleat
    assert lies_at(move.to, board, SHOP) == "" and lies_at(move.other_to, board, SHOP) == "A"
    assert not list(dropped_objections(move.to, (move.other_to,), RAIL, board, SHOP))
    assert not list(dropped_objections(move.other_to, (move.to,), CLEAT, board, SHOP))


@pytest.mark.parametrize("tied", [{"nest": 1}, {"angle_deg": 3.0}, {"stave": 1}, {"locked": True}])
def test_a_hidden_part_that_is_held_nested_or_turned_gives_its_place_to_no_other(tied):
    board = unseen(plain_board(length_mm=930.0, width_mm=80.0), "A")
    layout = layout_of(at("rail", 1, 55.0, 3.5), replace(at("cleat", 1, 490.0, 3.5), **tied))
    assert free_exchanges(layout, (board,), (RAIL, CLEAT), SHOP) == ()


def test_short_hidden_and_spare_parts_may_stay():
    board = unseen(plain_board(), "A")
    for part in (CLEAT, replace(RAIL, faces=Faces.HIDDEN)):
        layout = layout_of(at(part.name, 1, 60.0))
        assert free_exchanges(layout, (board,), (part,), SHOP) == ()
    spare = layout_of(at("rail", 2, 60.0))
    assert free_exchanges(spare, (board,), (RAIL,), SHOP) == ()


def test_no_other_board_is_opened_for_it():
    small = unseen(plain_board(length_mm=560.0, width_mm=80.0), "A")
    layout = layout_of(at("rail", 1, 60.0, 3.5))
    assert free_exchanges(layout, (small, plain_board("P02")), (RAIL,), SHOP) == ()


def test_what_is_cut_or_held_stays():
    board = unseen(plain_board(), "A")
    for held in (
        replace(at("rail", 1, 60.0), state="cut"),
        replace(at("rail", 1, 60.0), locked=True),
    ):
        assert free_exchanges(layout_of(held), (board,), (RAIL,), SHOP) == ()
