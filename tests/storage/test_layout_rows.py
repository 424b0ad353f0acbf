"""Undo and redo bring back the layout that was made from the same state of the lot."""

import sqlite3
from dataclasses import replace

import pytest

from scanner.app.nodding.review_flaws import strike
from scanner.storage import layout_rows
from scanner.storage.journal import Stamp
from scanner.storage.lots import Action, open_lot
from tests import common


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), Stamp("board-one", 0, "test"))
    _lay_out(lot, 1)
    yield lot
    lot.close()


def _lay_out(lot, seed):
    lot.save_layout(replace(common.small_layout(), seed=seed), lot.revision)


def _strike(lot, flaw):
    stamp = Stamp(f"strike-{flaw}-{lot.revision}", lot.revision, "test")
    lot.record(Action(stamp, "B01", "struck", lambda board: strike(board, flaw)))


def _walk(lot, act):
    getattr(lot, act)(Stamp(f"{act}-{lot.revision}", lot.revision, "test"))


def _standing(lot):
    saved = lot.layout()
    return saved.layout.seed, saved.revision == lot.revision


def _move(lot, by):
    def moved(ticks, layouts):
        placed = next(layouts).placements[0]
        there = replace(placed, x_mm=placed.x_mm + by, locked=True)
        return replace(ticks.without((placed.part, placed.copy)), placements=(there,))

    lot.tick(Stamp(f"move-{lot.revision}", lot.revision, "test"), "moved", moved)


def test_undo_brings_back_the_layout_made_before(lot):
    _strike(lot, "F5")
    assert _standing(lot) == (1, False)
    _lay_out(lot, 2)
    assert _standing(lot) == (2, True)
    _walk(lot, "undo")
    assert _standing(lot) == (1, True)
    _walk(lot, "redo")
    assert _standing(lot) == (2, True)


def test_another_change_after_undo_is_a_state_of_its_own(lot):
    _strike(lot, "F5")
    _lay_out(lot, 2)
    _walk(lot, "undo")
    _strike(lot, "F3")
    assert _standing(lot)[1] is False


def test_until_it_is_laid_out_a_change_shows_the_layout_it_came_from_and_none_undone(lot):
    _strike(lot, "F5")
    _lay_out(lot, 2)
    _walk(lot, "undo")
    _strike(lot, "F3")
    _strike(lot, "F2")
    assert _standing(lot) == (1, False)
    for _ in range(2):
        _walk(lot, "undo")
    assert _standing(lot) == (1, True)


def test_where_no_layout_led_to_what_stands_the_newest_of_all_is_shown(lot):
    _walk(lot, "undo")
    assert _standing(lot) == (1, False)


def test_undo_over_several_changes_finds_each_layout_again(lot):
    for number, flaw in enumerate(("F5", "F3", "F2"), 2):
        _strike(lot, flaw)
        _lay_out(lot, number)
    seen = []
    for _ in range(3):
        _walk(lot, "undo")
        seen.append(_standing(lot))
    assert seen == [(3, True), (2, True), (1, True)]


def test_a_part_locked_where_it_lies_keeps_the_layout_and_a_moved_one_does_not(lot):
    _move(lot, 0.0)
    assert _standing(lot) == (1, True)
    _move(lot, 30.0)
    assert _standing(lot) == (1, False)


def test_a_move_taken_back_leaves_the_former_layout(lot):
    before = lot.layout().layout.placements
    _move(lot, 30.0)
    assert lot.layout().layout.placements != before
    _lay_out(lot, 2)
    _walk(lot, "undo")
    assert _standing(lot) == (1, True)
    assert lot.layout().layout.placements == before


def test_before_the_first_layout_the_journal_is_not_read_for_one():
    connection = sqlite3.connect(":memory:")
    # No journal table: to read it would be a fault.
    connection.execute("CREATE TABLE layout (number INTEGER, revision INTEGER)")
    assert layout_rows._row_of(connection, 3000) is None
