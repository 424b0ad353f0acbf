"""What is said of one board of a lot is told of the next board's candidates."""

from dataclasses import replace

import pytest

from scanner.app.lot.open_lot import open_lot
from scanner.app.showing.page_state import board_view
from scanner.board.flaw import FlawKind, FlawState
from scanner.storage.lots import Stamp
from tests.common import ash_board, ellipse


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "one.lot")
    yield lot
    lot.close()


def said(id, state, looked_over=True):
    """Return a board with eight more checks that look alike, all of one state."""
    board = ash_board(id, looked_over)
    check = replace(board.flaws[1], outlines={1: ellipse(900, 90, 30, 2)}, state=state)
    more = tuple(replace(check, id=f"F{n}") for n in range(6, 14))
    return board.with_flaws((*board.flaws, *more))


def save(lot, board):
    lot.save_board(board, Stamp(f"save-{board.id}", lot.revision, "test"))


def check_of(lot, id):
    return next(flaw for flaw in board_view(lot, id).flaws if flaw.kind == FlawKind.CHECK)


def test_checks_struck_on_one_board_are_doubted_on_the_next_and_none_is_left_out(lot):
    save(lot, ash_board("B02"))
    before = board_view(lot, "B02").flaws
    save(lot, said("B01", FlawState.STRUCK))
    after = board_view(lot, "B02").flaws
    assert [flaw.id for flaw in after] == [flaw.id for flaw in before]
    assert check_of(lot, "B02").sure == "doubtful, by your nods"
    assert [f.sure for f in after if f.kind == "stain"] == ["less clearly seen"]
    assert lot.board("B02").flaws == ash_board("B02").flaws


def test_what_is_said_of_a_board_does_not_move_its_own_list(lot):
    save(lot, said("B01", FlawState.STRUCK))
    assert check_of(lot, "B01").sure == "less clearly seen"


def test_faces_that_nobody_looked_over_teach_nothing(lot):
    save(lot, said("B01", FlawState.STRUCK, looked_over=False))
    save(lot, ash_board("B02"))
    assert check_of(lot, "B02").sure == "less clearly seen"
