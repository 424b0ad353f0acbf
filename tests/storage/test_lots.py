"""The lot file keeps what was said, and walks it back and forth."""

import hashlib
import json
import sqlite3
from dataclasses import replace

import pytest

from scanner.board.flaw import FlawState
from scanner.errors import LotError
from scanner.placement.shop import Shop
from scanner.storage import lots
from scanner.storage.lots import Action, PartsText, open_lot
from tests import common
from tests.storage.said import saying, stamp


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), stamp())
    yield lot
    lot.close()


def state_of(lot, flaw="F1"):
    return next(f.state for f in lot.board("B01").flaws if f.id == flaw)


def test_boards_come_back_as_they_went_in(lot):
    walnut = replace(common.ash_board(), id="B02", species="walnut")
    lot.save_board(walnut, stamp())
    assert lot.boards() == (common.ash_board(), walnut)


def test_the_standing_of_a_board_counts_what_is_open(lot):
    lot.save_board(common.walnut_board(), stamp())
    lot.save_board(common.plain_board(looked_over=False), stamp())
    lot.record(saying(FlawState.STRUCK))
    assert [(s.id, s.open_flaws, s.faces_to_do) for s in lot.standings()] == [
        ("B01", 4, (1, 2)),
        ("B02", 0, ()),
        ("P01", 0, (1, 2)),
    ]


def test_what_was_confirmed_is_there_when_the_file_is_opened_again(lot):
    assert lot.record(saying(FlawState.STRUCK)).status == "done"
    lot.close()
    again = open_lot(lot.path)
    assert state_of(again) is FlawState.STRUCK
    again.close()


def test_undo_and_redo_walk_the_journal(lot):
    lot.record(saying(FlawState.STRUCK))
    lot.record(saying(FlawState.CONFIRMED, "F2"))
    assert lot.next_undo() == "F2 is confirmed"
    assert lot.undo(stamp()).said == "F2 is confirmed"
    assert lot.undo(stamp()).said == "F1 is struck"
    assert lot.boards() == (common.ash_board(),)
    assert lot.redo(stamp()).said == "F1 is struck"
    assert state_of(lot) is FlawState.STRUCK
    assert state_of(lot, "F2") is FlawState.POSSIBLE
    assert lot.next_redo() == "F2 is confirmed"


def test_undo_takes_a_whole_board_back_and_redo_brings_it_again(lot):
    lot.undo(stamp())
    assert lot.boards() == ()
    assert lot.undo(stamp()).status == "nothing"
    lot.redo(stamp())
    assert lot.boards() == (common.ash_board(),)


def test_a_removed_board_comes_back_at_its_place(lot):
    lot.save_board(replace(common.ash_board(), id="B02"), stamp())
    lot.remove_board("B01", stamp())
    assert [board.id for board in lot.boards()] == ["B02"]
    lot.undo(stamp())
    assert [board.id for board in lot.boards()] == ["B01", "B02"]


def test_after_something_new_the_undone_cannot_come_back(lot):
    lot.record(saying(FlawState.STRUCK))
    lot.undo(stamp())
    lot.record(saying(FlawState.CONFIRMED, "F3"))
    assert lot.redo(stamp()).status == "nothing"
    assert state_of(lot) is FlawState.POSSIBLE
    lot.undo(stamp())
    assert lot.next_redo() == "F3 is confirmed"


def test_an_action_sent_twice_is_done_once(lot):
    action = saying(FlawState.STRUCK)
    revision = lot.record(action).revision
    lot.undo(once := stamp())
    assert lot.record(action).status == "known"
    assert lot.undo(once).status == "known"
    assert state_of(lot) is FlawState.POSSIBLE
    assert lot.revision == revision + 1


def test_a_late_action_of_another_window_is_answered_not_dropped(lot):
    seen = lot.revision
    lot.record(saying(FlawState.STRUCK, base=seen, client="one"))
    late = lot.record(saying(FlawState.CONFIRMED, base=seen, client="two"))
    assert late.status == "stale"
    assert state_of(lot) is FlawState.STRUCK
    assert lot.undo(stamp(base=seen, client="two")).status == "stale"


def test_a_late_action_on_another_flaw_goes_through(lot):
    seen = lot.revision
    lot.record(saying(FlawState.STRUCK, base=seen, client="one"))
    assert lot.record(saying(FlawState.CONFIRMED, "F2", base=seen, client="two")).status == "done"


def test_several_actions_in_the_air_from_one_window_all_arrive(lot):
    seen = lot.revision
    for state in (FlawState.STRUCK, FlawState.CONFIRMED, FlawState.STRUCK):
        assert lot.record(saying(state, base=seen)).status == "done"
    assert lot.undo(stamp(base=seen)).status == "done"


def test_every_action_is_one_row(lot):
    before = lot.revision
    lot.record(saying(FlawState.STRUCK))
    lot.undo(stamp())
    lot.redo(stamp())
    assert lot.revision == before + 3
    assert lot.record(saying(FlawState.STRUCK)).status == "nothing"
    assert lot.revision == before + 3


def test_a_failing_change_leaves_nothing_behind(lot):
    def broken(board):
        raise LotError("no", "no")

    with pytest.raises(LotError):
        lot.record(Action(stamp(), "B01", "breaks", broken))
    assert lot.record(saying(FlawState.STRUCK)).status == "done"


def test_parts_and_shop_are_kept_and_can_be_undone(lot):
    assert lot.parts_text() is None and lot.shop() == Shop()
    lot.set_parts_text(PartsText("bench.csv", "name,quantity\n"), stamp())
    lot.set_shop(Shop.inch(), stamp())
    assert lot.shop() == Shop.inch()
    lot.undo(stamp())
    assert lot.shop() == Shop()
    assert lot.parts_text() == PartsText("bench.csv", "name,quantity\n")


def test_the_newest_layout_comes_back_and_old_ones_go(lot):
    assert lot.layout() is None
    for number in range(30):
        lot.save_layout(replace(common.small_layout(), seed=number), revision=number)
    assert lot.layout() == lots.SavedLayout(replace(common.small_layout(), seed=29), 29)


def test_a_picture_is_stored_under_the_hash_of_its_bytes(lot):
    kept = lot.keep_picture(b"not really a picture", "../../etc/face one.JPG")
    path = lot.picture(kept.file)
    assert path is not None and path.parent == lot.folder
    assert path.name == hashlib.sha256(path.read_bytes()).hexdigest() + ".jpg"
    assert lot.keep_picture(b"not really a picture", "again.jpg").file == kept.file
    assert kept.name == "face one.JPG"
    lot.set_photos("B01", {1: (kept,)})
    assert lot.photos("B01") == {1: (kept,)}


@pytest.mark.parametrize("name", ["../bench.lot", "bench.lot", "", "a" * 64, ".." + "a" * 62])
def test_only_stored_names_find_a_picture(lot, name):
    assert lot.picture(name) is None


def test_an_unknown_board_is_refused(lot):
    with pytest.raises(LotError, match=r"bench\.lot has no board B09"):
        lot.board("B09")


def test_a_full_disk_is_said_and_nothing_is_lost(lot):
    pages = lot._connection.execute("PRAGMA page_count").fetchone()[0]
    lot._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(LotError, match="is full"):
        lot.set_parts_text(PartsText("long.csv", "x" * 200_000), stamp())
    assert lot.parts_text() is None
    assert lot.boards() == (common.ash_board(),)
    lot._connection.execute("PRAGMA max_page_count = 1000000")
    assert lot.record(saying(FlawState.STRUCK)).status == "done"


def test_the_lot_is_written_the_safe_way(lot):
    def pragma(name):
        return lot._connection.execute(f"PRAGMA {name}").fetchone()[0]

    # 2 is FULL (SQLite, PRAGMA synchronous).
    assert (pragma("journal_mode"), pragma("synchronous"), pragma("foreign_keys")) == ("wal", 2, 1)
    tables = lot._connection.execute(
        "SELECT name, strict FROM pragma_table_list"
        " WHERE schema = 'main' AND name NOT LIKE 'sqlite%'"
    ).fetchall()
    assert len(tables) >= 7 and all(strict for _, strict in tables)
    with pytest.raises(sqlite3.IntegrityError):
        lot._connection.execute("INSERT INTO flaw VALUES ('B77', 'F1', 0, '{}')")


def test_an_action_goes_over_no_table_as_a_whole(lot):
    """A tap costs the same in a long journal as in a short one (SQLite, "EXPLAIN QUERY PLAN")."""
    asked = []
    lot._connection.set_trace_callback(asked.append)
    assert lot.record(saying(FlawState.STRUCK)).status == "done"
    assert lot.undo(stamp()).status == "done"
    assert lot.redo(stamp()).status == "done"
    lot._connection.set_trace_callback(None)
    plans = {
        statement: [row[3] for row in lot._connection.execute(f"EXPLAIN QUERY PLAN {statement}")]
        for statement in asked
        if statement.startswith(("SELECT", "UPDATE", "INSERT", "DELETE"))
    }
    assert any("INDEX journal_standing" in step for plan in plans.values() for step in plan)
    # Of layouts twenty are kept at most.
    whole = {"SCAN journal", "SCAN board", "SCAN flaw", "SCAN fact", "SCAN photo", "SCAN picture"}
    assert not [statement for statement, plan in plans.items() if whole & set(plan)]


def test_a_nod_at_a_flaw_writes_no_row_of_its_board(lot):
    lot.record(saying(FlawState.STRUCK))
    (newest,) = lot._connection.execute(
        "SELECT changes FROM journal ORDER BY number DESC LIMIT 1"
    ).fetchone()
    assert [(table, key) for table, key, *_ in json.loads(newest)] == [("flaw", ["B01", "F1"])]
