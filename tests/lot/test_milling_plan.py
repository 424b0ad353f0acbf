"""Batches of one thickness, their targets, setup pieces and days."""

from dataclasses import replace
from datetime import date

import pytest

from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.lot.milling_plan import (
    MillingChoice,
    MillingNotes,
    late_batches,
    milling_plan,
    thin_pieces,
    to_measure,
)
from scanner.placement.layout import Offcut
from scanner.placement.shop import Shop
from tests.lot.milled import BOARD, OFFCUTS, PARTS, PLACED, layout_of

SHOP = Shop()


def plan(notes=None, board=BOARD, **more):
    return milling_plan(layout_of(**more), (board,), PARTS, SHOP, notes)


def test_parts_of_one_thickness_go_together_thickest_first():
    batches = plan().batches
    assert [batch.final_mm for batch in batches] == [20.0, 12.0]
    assert [piece.part for piece in batches[0].pieces] == ["rail", "rail", "stile"]


def test_the_first_pass_leaves_what_was_chosen():
    assert plan().batches[0].first_mm == 23.0
    assert plan(MillingNotes(MillingChoice(over_mm=1.5))).batches[0].first_mm == 21.5


def test_a_piece_that_gives_less_sets_the_first_pass_of_its_batch_and_is_named():
    batch = plan(MillingNotes(MillingChoice(over_mm=6.0))).batches[0]
    # 26.99 - 3.2 mm are left when flat.
    assert batch.first_mm == 23.8
    assert len(batch.short) == 3
    bowed = replace(BOARD, warp=Warp(bow_mm=60.0))
    batch = plan(board=bowed).batches[0]
    assert batch.first_mm < 23.0 and "stile" in {piece.part for piece in batch.short}


def test_no_first_pass_goes_below_the_final_thickness():
    thin = replace(BOARD, warp=Warp(bow_mm=150.0))
    assert plan(board=thin).batches[0].first_mm == 20.0


def test_each_batch_has_its_own_setup_piece_the_smallest_that_will_do():
    setups = [batch.setup for batch in plan().batches]
    assert setups == [OFFCUTS[1], OFFCUTS[0]]
    assert {batch.setup for batch in plan(offcuts=()).batches} == {None}


def test_a_left_over_too_short_for_the_machines_sets_nothing():
    short = (Offcut("P01", 0, 0, 250, 190),)
    assert [batch.setup for batch in plan(offcuts=short).batches] == [None, None]


def test_what_is_glued_first_is_milled_first_and_rests_before():
    notes = MillingNotes(
        MillingChoice(rest_days=7), glue_up={"panel": "2027-03-01", "rail": "2027-03-20"}
    )
    first, second = plan(notes).batches
    assert (first.final_mm, first.final_on) == (12.0, date(2027, 3, 1))
    assert first.first_on == date(2027, 2, 22)
    assert second.glue_up == date(2027, 3, 20)


def test_without_rest_both_passes_fall_on_one_day():
    notes = MillingNotes(MillingChoice(rest_days=0), begin="2027-03-01")
    batch = plan(notes).batches[0]
    assert batch.first_on == batch.final_on == date(2027, 3, 1)


def test_without_dates_there_are_no_days():
    batch = plan().batches[0]
    assert batch.first_on is None and batch.final_on is None


def test_done_and_spoiled_parts_are_not_milled_again():
    placed = (replace(PLACED[0], state="done"), replace(PLACED[1], state="spoiled"), *PLACED[2:])
    assert [piece.part for piece in plan(placements=placed).batches[0].pieces] == ["stile"]


NOTES = MillingNotes(MillingChoice(rest_days=3), begin="2027-03-01")


def test_a_pass_that_is_overdue_is_said_until_it_is_ticked():
    made = plan(NOTES)
    assert len(late_batches(made, date(2027, 3, 2), NOTES)) == 2
    ticked = replace(NOTES, done={"20.0/first": "2027-03-01", "12.0/first": "2027-03-01"})
    assert late_batches(made, date(2027, 3, 2), ticked) == ()


def test_after_the_rest_the_pieces_are_to_be_measured_again():
    ticked = replace(NOTES, done={"20.0/first": "2027-03-01"})
    made = plan(ticked)
    assert to_measure(made, date(2027, 3, 3), ticked) == ()
    assert [b.final_mm for b in to_measure(made, date(2027, 3, 4), ticked)] == [20.0]
    every = {piece.key: 22.0 for piece in made.batches[0].pieces}
    measured = replace(ticked, measured=every)
    assert to_measure(made, date(2027, 3, 4), measured) == ()


def test_a_piece_that_was_measured_too_thin_is_named():
    made = plan(NOTES)
    notes = replace(NOTES, measured={"rail/2/0": 19.5, "rail/1/0": 21.0})
    assert [piece.copy for piece in thin_pieces(made.batches[0], notes)] == [2]


def test_slices_of_a_blank_give_what_the_resaw_leaves_of_it():
    # 26.99 mm flat, a kerf of 3.2 and two halves: 11.9 mm, 3.2 of it to flatten the slice.
    sliced = tuple(replace(PLACED[2], copy=copy, layer=copy, show_face=1) for copy in (1, 2))
    (batch,) = plan(placements=sliced).batches
    assert [piece.gives_mm for piece in batch.pieces] == pytest.approx([8.695, 8.695])
    assert [[piece.layer for piece in blank] for blank in batch.blanks] == [[1, 2]]
    # Nobody planes 12 mm panels out of that.
    assert batch.first_mm == 12.0 and len(batch.short) == 2


def test_a_piece_of_which_a_slice_would_be_planed_away_is_named():
    beam = replace(BOARD, id="P02", thickness=Measured(52.4, 2.0))
    stile = replace(PLACED[3], board="P02")
    placed = (*PLACED[:2], stile)
    (batch,) = milling_plan(layout_of(placed), (BOARD, beam), PARTS, SHOP).batches
    # 49.2 mm where 23 are wanted; the rails have 23.8.
    assert [piece.part for piece in batch.too_thick] == ["stile"]


def test_a_left_over_of_the_batchs_own_thickness_is_sent_first_though_a_thick_one_is_smaller():
    beam = replace(BOARD, id="P02", thickness=Measured(52.4, 2.0))
    thick, own = Offcut("P02", 0, 0, 400, 60), Offcut("P01", 1500, 5, 900, 190)
    (batch,) = milling_plan(layout_of(PLACED[:2], (thick, own)), (BOARD, beam), PARTS, SHOP).batches
    assert batch.setup == own and not batch.setup_is_thick
    (batch,) = milling_plan(layout_of(PLACED[:2], (thick,)), (BOARD, beam), PARTS, SHOP).batches
    assert batch.setup == thick and batch.setup_is_thick
