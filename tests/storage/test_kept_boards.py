"""All boards of a lot, read once and then only where an action touched one."""

from dataclasses import replace

import pytest

from scanner.board.flaw import FlawState
from scanner.storage.lots import open_lot
from tests import common
from tests.storage.said import saying, stamp


@pytest.fixture
def two_windows(tmp_path):
    lots = [open_lot(tmp_path / "bench.lot") for _ in range(2)]
    lots[0].save_board(common.ash_board(), stamp())
    lots[0].save_board(common.walnut_board(), stamp())
    yield lots
    for lot in lots:
        lot.close()


def test_boards_are_as_a_fresh_reading_gives_them_whoever_acts(two_windows):
    one, other = two_windows
    steps = (
        lambda lot: lot.record(saying(FlawState.STRUCK)),
        lambda lot: lot.save_board(replace(common.ash_board(), id="B00"), stamp()),
        lambda lot: lot.undo(stamp()),
        lambda lot: lot.undo(stamp()),
        lambda lot: lot.redo(stamp()),
        lambda lot: lot.remove_board("B01", stamp()),
        lambda lot: lot.undo(stamp()),
        lambda lot: lot.save_board(replace(common.ash_board(), price=9.0), stamp()),
    )
    for number, step in enumerate(steps):
        assert step((one, other)[number % 2]).status == "done"
        fresh = open_lot(one.path)
        for lot in (one, other):
            assert lot.boards() == fresh.boards()
            assert lot.standings() == fresh.standings()
        fresh.close()


@pytest.mark.slow
def test_after_a_pile_of_actions_all_are_right_too(two_windows):
    one, other = two_windows
    one.boards()
    for number in range(60):
        other.record(saying((FlawState.STRUCK, FlawState.CONFIRMED)[number % 2]))
    assert one.boards() == other.boards()
    assert one.boards()[0].flaws[0].state is FlawState.CONFIRMED


def test_after_a_tap_only_its_board_is_read_again(two_windows):
    lot = two_windows[0]
    before = lot.boards(), lot.standings()
    lot.record(saying(FlawState.STRUCK))
    asked = []
    lot._connection.set_trace_callback(asked.append)
    after = lot.boards(), lot.standings()
    lot._connection.set_trace_callback(None)
    boards = [statement for statement in asked if "FROM board" in statement]
    assert len(boards) == 2
    assert all("= 'B01'" in statement for statement in boards)
    assert before[0][0] != after[0][0]
    assert before[0][1] is after[0][1]
