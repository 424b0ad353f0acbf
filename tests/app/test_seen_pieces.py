"""A piece that was seen again is as thick as it is by now: no thicker part is laid on its wood."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from scanner.app.cutting.edit_layout import edit_layout
from scanner.app.cutting.tick_parts import tick
from scanner.app.later.piece_on_board import measured
from scanner.app.lot.open_lot import new_stamp
from scanner.app.nodding.sayings import Saying
from scanner.app.placing.place_again import plan_lot
from scanner.board.carry_over import Moves, carry_over
from scanner.board.measured import Measured
from scanner.board.piece import cut_out
from scanner.board.seen_piece import SeenPiece, in_frame, thickness_there_mm, with_seen
from scanner.errors import ScannerError
from scanner.files.board_file import board_from_text, board_json
from scanner.files.typed import read_thickness
from scanner.lot.milling_plan import milling_plan
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import zones_of
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.app.placed_lot import placed
from tests.common import plain_board
from tests.lot.laid import layout_of

SHOP = Shop()
PART = Part("rail", 1, 400.0, 60.0, 19.0, Faces.SOUND)


def seen(x=300.0, length=500.0, thick=17.0, y=0.0, width=203.2):
    return SeenPiece(1, x, y, length, width, Measured(thick, 1.0), (70.0, 5.0, 20.0))


def board(*pieces):
    return replace(plain_board(), pieces=pieces)


def test_a_piece_comes_back_from_the_file_as_it_was():
    known = board(seen(), replace(seen(x=900.0), lab=None, thickness=None))
    assert board_from_text(board_json(known), "board.json").pieces == known.pieces
    assert '"pieces"' not in board_json(board())


def test_of_two_looks_at_the_same_wood_the_later_counts():
    first, later, other = seen(thick=24.0), seen(thick=20.0), seen(x=1200.0)
    assert with_seen((first, other), later) == (other, later)
    # Cut in two since: the half that was not seen again keeps what is known of it.
    half = seen(length=200.0, thick=20.0)
    assert with_seen((first,), half) == (first, half)
    assert thickness_there_mm((first, half), (320.0, 20.0), (100.0, 60.0)) == 20.0
    assert thickness_there_mm((first, half), (620.0, 20.0), (100.0, 60.0)) == 24.0


def test_a_piece_that_nobody_measured_says_nothing_of_thickness():
    unknown = replace(seen(), thickness=None)
    assert thickness_there_mm((unknown,), (320.0, 20.0), (100.0, 60.0)) is None
    assert zones_of(board(unknown), PART, SHOP, None) == zones_of(board(), PART, SHOP, None)
    assert measured(Measured(22.0, 1.0)) == Measured(22.0, 1.0)
    # 4/4 is what the dealer calls it.
    assert measured(read_thickness("4/4")) is None


def test_a_neighbour_a_kerf_away_is_not_taken_for_the_piece():
    assert thickness_there_mm((seen(),), (803.2, 0.0), (300.0, 60.0)) is None


def test_a_left_over_takes_what_is_known_of_its_wood_along():
    (left,) = cut_out(board(seen()), "L1", (600.0, 50.0), (400.0, 100.0)).pieces
    assert (left.x_mm, left.y_mm, left.length_mm, left.width_mm) == (0.0, 0.0, 200.0, 100.0)
    assert in_frame((seen(),), box(1000, 0, 1400, 100)) == ()


def test_a_new_scan_keeps_what_pieces_and_edges_told():
    old = replace(board(seen()), slope_one_in=14.0)
    moved = Moves({1: lambda points: points + np.array([4.0, -2.0])})
    after = carry_over(old, board(), moved).board
    assert after.slope_one_in == 14.0
    assert after.pieces == (replace(seen(), x_mm=304.0, y_mm=-2.0),)


@pytest.mark.slow
def test_no_part_thicker_than_a_piece_is_laid_on_it():
    thin = board(seen(x=0.0, length=1500.0))
    layout = solve((thin,), (PART,), SHOP, Work(20), seed=1)
    (placed,) = layout.placements
    assert placed.x_mm >= 1490.0
    assert validate_layout(layout, (thin,), (PART,), SHOP) == ()
    # The judge, which shares nothing with the search, says so of one laid there all the same.
    free = solve((board(),), (PART,), SHOP, Work(20), seed=1)
    assert free.placements[0].x_mm < 1400.0
    assert any("17.0 mm thick by now" in why.words
               for why in validate_layout(free, (thin,), (PART,), SHOP))  # fmt: skip


@pytest.mark.parametrize(("thick", "lies"), [(19.0, True), (18.9, False)])
def test_a_piece_that_is_thick_enough_forbids_nothing(thick, lies):
    with_it, without = (
        zones_of(one, PART, SHOP, None) for one in (board(seen(thick=thick)), board())
    )
    assert (len(with_it) == len(without)) is lies


def test_by_hand_too_it_is_refused_with_the_reason(placed_lot):
    lot = placed_lot
    known = lot.board("P01")
    lot.save_board(replace(known, pieces=(seen(x=1500.0, thick=15.0),)), new_stamp(lot))
    leg = next(p for p in lot.layout().layout.placements if p.part == "leg")
    saying = Saying(
        new_stamp(lot), "move", board="P01", part="leg", copy=leg.copy, other="P01",
        ring=((leg.x_mm, leg.y_mm), (1550.0, leg.y_mm)), reach_mm=1.0,
    )  # fmt: skip
    with pytest.raises(ScannerError, match=r"15\.0 mm thick by now"):
        edit_layout(lot, saying)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"pieces": (seen(x=0.0, length=1500.0, thick=15.0),)}, r"15\.0 mm thick by now"),
        ({"thickness": Measured(20.0, 1.0)}, "16.80 mm are left when flat, 19.00 are needed"),
    ],
)
def test_a_part_that_is_to_stay_on_wood_too_thin_by_now_is_named(placed_lot, changed, why):
    lot = placed_lot
    turn = Saying(new_stamp(lot), "turn", board="P01", part="front", copy=1, ring=((60.0, 5.0),))
    edit_layout(lot, turn)
    lot.save_board(replace(lot.board("P01"), **changed), new_stamp(lot))
    with pytest.raises(ScannerError, match=why):
        plan_lot(lot, Work(8))


@pytest.mark.slow
def test_what_is_cut_stays_when_the_rest_is_placed_again_round_a_thin_piece(placed_lot):
    lot = placed_lot
    tick(lot, new_stamp(lot), ("front", 1), "P01", (60.0, 5.0), "cut")
    thin = (seen(x=0.0, length=900.0, thick=15.0),)
    lot.save_board(replace(lot.board("P01"), pieces=thin), new_stamp(lot))
    plan_lot(lot, Work(8))
    placed = {(p.part, p.copy): p for p in lot.layout().layout.placements}
    assert (placed["front", 1].x_mm, placed["front", 1].state) == (60.0, "cut")
    assert len(placed) == 5
    assert all(p.x_mm > 880.0 for key, p in placed.items() if key != ("front", 1))


def test_the_milling_plan_reckons_with_what_the_piece_measures_by_now():
    layout = layout_of(placed("rail", 1, 100.0, 5.0, (425.0, 72.0)))
    now = board(seen(x=0.0, length=1500.0, thick=20.4))
    (before,), (after,) = (
        milling_plan(layout, (one,), (PART,), SHOP).batches for one in (board(), now)
    )
    assert after.pieces[0].gives_mm == 20.4 < before.pieces[0].gives_mm
    assert after.first_mm == pytest.approx(20.4)
