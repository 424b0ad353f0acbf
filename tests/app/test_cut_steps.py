"""The caution stands beside its cut: in the lot, on the board map, and for no other cut."""

from dataclasses import replace
from itertools import pairwise

import pytest
from shapely.geometry import box

from scanner.app.cutting.tick_parts import tick
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.showing.cut_steps import boards_with_cuts, cut_steps
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.errors import LotError
from scanner.lot.totals import board_totals, layout_totals
from scanner.sheets.content import map_content
from tests.common import ash_board, bench_parts, small_layout
from tests.ui.made_results import write_results

# Across the third crosscut, of which nobody said that it is tight.
KNOT = Flaw("F9", FlawKind.KNOT, {1: box(840, 60, 860, 80)}, state=FlawState.CONFIRMED)


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    fill_from_results(lot, write_results(tmp_path / "results"))
    board = lot.board("B01")
    lot.save_board(replace(board, flaws=(KNOT,)), new_stamp(lot))
    yield lot
    lot.close()


def test_a_loose_knot_stands_beside_the_cut_that_meets_it_and_no_other(lot):
    steps = cut_steps(lot, "B01")
    cuts = [cut for step in steps for cut in step.cuts]
    assert [cut.number for cut in cuts] == [str(n) for n in range(1, 18)]
    assert (cuts[2].at, cuts[2].makes) == ("850 mm", "piece 2 starts")
    # The third crosscut runs through it, and a rip of the next piece close beside it.
    assert [n for n, cut in enumerate(cuts, 1) if "knot F9" in cut.mind] == [3, 12]
    met = [step for step in steps if any("knot" in cut.mind for cut in step.cuts)]
    told = [step for step in steps if any(line.startswith("knot: loose") for line in step.means)]
    assert told == met


def test_a_step_is_at_one_saw_and_says_from_where_its_cuts_are_marked(lot):
    steps = cut_steps(lot, "B01")
    assert steps[0].title == "Across the board" and "jig saw" in steps[0].saw
    assert steps[0].marked == "Marked from end A, with the tape along its edge."
    along = next(step for step in steps if step.title == "Along piece 1")
    assert along.saw == "band saw; no table saw yet"
    assert along.marked.startswith("Marked in from the far edge (face 1 up, end A at your left)")
    assert [cut.makes for cut in along.cuts[:2]] == ["far side of rail 1", "rail 1 to 82 mm wide"]
    across = next(step for step in steps if step.title == "Across piece 2, to length")
    assert across.marked == "Marked from the piece’s A end."
    assert [cut.makes for cut in across.cuts] == ["stretcher to 700 mm long"]
    # Two that follow each other at one saw are one step.
    heads = [(step.title, step.saw) for step in steps]
    assert all(one != after for one, after in pairwise(heads))


def test_a_rip_between_two_unlike_marks_says_at_which_ends_they_are(lot):
    steps = cut_steps(lot, "B01")
    slanting = [step for step in steps if any("→" in cut.at for cut in step.cuts)]
    assert all("at the A end → at the B end" in step.marked for step in slanting)
    straight = [step for step in steps if step not in slanting]
    assert straight and not any("→" in step.marked for step in straight)


def test_a_cut_whose_parts_are_all_ticked_is_done_and_warns_of_nothing(lot):
    before = [cut for step in cut_steps(lot, "B01") for cut in step.cuts]
    assert not any(cut.is_done for cut in before)
    for p in lot.layout().layout.placements:
        if p.board == "B01" and p.part == "rail":
            for state in ("laid_out", "cut"):
                tick(lot, new_stamp(lot), (p.part, p.copy), "B01", (p.x_mm, p.y_mm), state)
    steps = cut_steps(lot, "B01")
    after = [cut for step in steps for cut in step.cuts]
    done = [cut for cut in after if cut.is_done]
    assert any(cut.makes == "far side of rail 1" for cut in done)
    assert not any("stretcher" in cut.makes for cut in done)
    assert all(cut.mind == "" for cut in done)
    kept = [cut.mind for cut in after if not cut.is_done]
    assert kept == [cut.mind for cut, now in zip(before, after, strict=True) if not now.is_done]
    for step in steps:
        assert bool(step.means) == any(cut.mind for cut in step.cuts)


def test_a_blank_to_be_resawn_is_told_after_all_straight_cuts_as_on_the_map(lot):
    saved = lot.layout().layout
    rail, _, *others = saved.placements
    slices = tuple(replace(rail, copy=copy, layer=copy) for copy in (1, 2))
    lot.save_layout(replace(saved, placements=(*slices, *others)), lot.revision)
    *straight, last = cut_steps(lot, "B01")
    assert last.title == "Blanks apart, through their thickness" and last.saw == "band saw"
    (cut,) = last.cuts
    assert (cut.number, cut.at, cut.mind) == ("", "piece 1", "joint first")
    assert cut.makes == "on edge in 2: rail 1, rail 2"
    assert all(cut.number for step in straight for cut in step.cuts)


def test_only_boards_that_are_cut_are_told(lot):
    assert boards_with_cuts(lot) == ("B01", "B02")
    with pytest.raises(LotError, match="does not cut B07"):
        cut_steps(lot, "B07")


def test_the_board_map_s_cut_list_says_the_same_beside_the_same_cut(lot):
    board, layout = replace(ash_board(), flaws=(KNOT,)), small_layout()
    content = map_content(
        board, board_totals((board,))[0], layout, layout_totals(layout), bench_parts(),
        lot.shop(), {},
    )  # fmt: skip
    # The board is bowed and cupped as well: the knot is not what is left out for room.
    assert [row.order for row in content.cuts if "knot F9" in row.mind] == [3, 12]
    assert content.cuts[2].mind == "knot F9; hollow 1; closes"
