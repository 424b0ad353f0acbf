"""Which boards look alike, on the page of the lot's boards."""

from dataclasses import replace

import pytest

from scanner.app.lot.open_lot import new_stamp
from tests.common import ash_board
from tests.lot.test_same_log import looks
from tests.ui.page_runs import go_to, words_of
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)


@pytest.mark.slow
def test_rings_are_held_side_by_side_once_a_board_is_chosen(sample, lot):  # noqa: F811
    kept = [looks(1, 40, 150), looks(1, 50, 150, seed=1), *(looks(log) for log in range(2, 6))]
    for number, seen in enumerate(kept, 1):
        board = replace(ash_board(), id=f"R{number}", species="red oak", looks=seen)
        lot.save_board(board, new_stamp(lot, "test"))
    page = go_to(sample, "boards")
    assert not page.exception and "rings run alike" not in words_of(page)
    chosen = next(box for box in page.selectbox if box.key == "alike-to")
    page = chosen.select("R1").run()
    assert not page.exception
    said = words_of(page)
    assert "1. **R2**" in said and said.count("perhaps of one log, no proof") == 1
