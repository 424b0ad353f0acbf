"""The caution stands beside its cut: in the lot, on the board map, and for no other cut."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.app.cutting.cut_cares import boards_with_cuts, cares_of
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
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
    cares = cares_of(lot, "B01")
    assert [cut.said.split(".")[0] for cut in cares.cuts] == [str(n) for n in range(1, 18)]
    assert cares.cuts[2].said.startswith("3. crosscut at 850 mm")
    # The third crosscut runs through it, and a rip of the next piece close beside it.
    assert [n for n, cut in enumerate(cares.cuts, 1) if "knot F9" in cut.mind] == [3, 12]
    assert any(line.startswith("knot: loose, or nobody said") for line in cares.means)
    assert all(cut.saw for cut in cares.cuts)


def test_only_boards_that_are_cut_are_told(lot):
    assert boards_with_cuts(lot) == ("B01", "B02")
    with pytest.raises(LotError, match="does not cut B07"):
        cares_of(lot, "B07")


def test_the_board_map_s_cut_list_says_the_same_beside_the_same_cut(lot):
    board, layout = replace(ash_board(), flaws=(KNOT,)), small_layout()
    content = map_content(
        board, board_totals((board,))[0], layout, layout_totals(layout), bench_parts(),
        lot.shop(), {},
    )  # fmt: skip
    # The board is bowed and cupped as well: the knot is not what is left out for room.
    assert [row.order for row in content.cuts if "knot F9" in row.mind] == [3, 12]
    assert content.cuts[2].mind == "knot F9; hollow 1; 1 more"
