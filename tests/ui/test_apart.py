"""Work in a process of its own: told how far it is, problems come back, a breakdown is said."""

import os
from concurrent.futures.process import BrokenProcessPool

import pytest

from scanner.app.lot.open_lot import new_stamp, open_lot
from scanner.errors import PhotoError
from tests import common
from ui import desks
from ui.apart import work_apart

pytestmark = pytest.mark.slow


def _add_a_board(lot, id, progress):
    progress("adding", 0.5)
    lot.save_board(common.ash_board(id), new_stamp(lot))
    return os.getpid()


def _refuse(lot, progress):
    raise PhotoError("a.jpg is blurred", "take it again")


def _break_down(lot, progress):
    os._exit(3)


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    yield lot
    lot.close()


def _nothing(step, share):
    pass


def test_what_is_done_apart_is_in_the_lot_and_told_on_the_way(lot):
    told = []
    process = work_apart(
        _add_a_board, lot.path, "B07", progress=lambda step, share: told.append((step, share))
    )
    assert process != os.getpid() and told == [("adding", 0.5)]
    assert [board.id for board in lot.boards()] == ["B07"]


def test_a_problem_comes_back_as_it_was_raised(lot):
    with pytest.raises(PhotoError, match=r"a\.jpg is blurred: take it again"):
        work_apart(_refuse, lot.path, progress=_nothing)


def test_a_process_that_breaks_down_is_said_and_the_page_goes_on(lot):
    with pytest.raises(RuntimeError, match="ended too early"):
        work_apart(_break_down, lot.path, progress=_nothing)
    assert lot.boards() == ()


def test_the_worker_is_started_anew_after_work_that_broke_it_down():
    with pytest.raises(BrokenProcessPool):
        desks._submit(os._exit, 3).result()
    assert desks._submit(os.getpid).result() != os.getpid()
    desks._forget_workers()
