"""Older lots are brought up to date, strangers are refused with a sentence."""

import os
import sqlite3
from contextlib import closing

import pytest

from scanner.errors import LotError
from scanner.storage.lots import look_into_lot, open_lot
from scanner.storage.refusals import told_plainly
from scanner.storage.schema import MIGRATIONS, connect, connect_to_copy
from tests import common
from tests.storage.said import stamp


def _made(path):
    lot = open_lot(path)
    lot.save_board(common.ash_board(), stamp())
    lot.close()
    return path


def _add_moons(connection):
    connection.execute("CREATE TABLE moon (name TEXT PRIMARY KEY) STRICT")


def _half_then_break(connection):
    _add_moons(connection)
    raise sqlite3.OperationalError("power went")


def test_an_older_lot_is_migrated_after_a_backup(tmp_path):
    path = _made(tmp_path / "bench.lot")
    with closing(connect(path, (*MIGRATIONS, _add_moons))) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == len(MIGRATIONS) + 1
        assert connection.execute("SELECT count(*) FROM moon").fetchone()[0] == 0
    backup = open_lot(tmp_path / f"bench.lot.schema-{len(MIGRATIONS)}")
    assert backup.boards() == (common.ash_board(),)
    backup.close()


def test_an_older_lot_that_is_only_read_stays_old(tmp_path):
    path = _made(tmp_path / "bench.lot")
    before = path.read_bytes()
    with closing(connect_to_copy(path, (*MIGRATIONS, _add_moons))) as copy:
        assert copy.execute("SELECT count(*) FROM moon").fetchone()[0] == 0
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            copy.execute("INSERT INTO moon VALUES ('one')")
    assert path.read_bytes() == before and list(tmp_path.iterdir()) == [path]


def test_what_another_window_wrote_last_is_read_too(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), stamp())
    # Not yet in the file itself: it lies in the write-ahead log.
    with look_into_lot(lot.path) as seen:
        assert seen.boards() == lot.boards()
        with pytest.raises(LotError):
            seen.save_board(common.walnut_board(), stamp())
    lot.close()


def test_a_migration_that_breaks_leaves_the_old_lot_whole(tmp_path):
    path = _made(tmp_path / "bench.lot")
    with pytest.raises(sqlite3.OperationalError):
        connect(path, (*MIGRATIONS, _half_then_break))
    lot = open_lot(path)
    assert lot.boards() == (common.ash_board(),)
    lot.close()


def test_a_newer_lot_is_refused(tmp_path):
    path = _made(tmp_path / "bench.lot")
    connect(path, (*MIGRATIONS, _add_moons)).close()
    with pytest.raises(LotError, match=r"^bench\.lot was written by a newer bothfaces"):
        open_lot(path)


def test_a_picture_is_no_lot(tmp_path):
    path = tmp_path / "board.jpg"
    path.write_bytes(b"\xff\xd8\xff\xe0 and so on")
    with pytest.raises(LotError, match=r"board\.jpg is no lot file"):
        open_lot(path)
    assert path.read_bytes() == b"\xff\xd8\xff\xe0 and so on"


def test_another_program_s_database_is_no_lot(tmp_path):
    path = tmp_path / "songs.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE song (name TEXT)")
    with pytest.raises(LotError, match="is no lot file"):
        open_lot(path)


@pytest.mark.parametrize("where", [0.3, 0.6, 0.9])
def test_a_damaged_lot_is_said_to_be_damaged(tmp_path, where):
    path = _made(tmp_path / "bench.lot")
    content = bytearray(path.read_bytes())
    begin = int(len(content) * where) // 4096 * 4096
    content[begin : begin + 4096] = b"\x5a" * 4096
    path.write_bytes(content)
    with pytest.raises(LotError, match=r"bench\.lot is damaged"):
        open_lot(path)


def test_a_value_that_is_no_board_is_said_to_be_damaged(tmp_path):
    path = _made(tmp_path / "bench.lot")
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("""UPDATE board SET value = '{"id": 7}'""")
    lot = open_lot(path)
    with pytest.raises(LotError, match=r"bench\.lot is damaged"):
        lot.boards()
    lot.close()


def test_a_missing_lot_is_refused_where_none_is_to_begin(tmp_path):
    with pytest.raises(LotError, match=r"There is no lot file none\.lot"):
        open_lot(tmp_path / "none.lot", create=False)
    with pytest.raises(LotError, match="may not be opened"):
        open_lot(tmp_path / "no" / "such" / "folder.lot")


def test_an_empty_file_becomes_a_lot(tmp_path):
    path = tmp_path / "new.lot"
    path.touch()
    lot = open_lot(path)
    assert lot.boards() == () and lot.revision == 0
    lot.close()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write all")
def test_a_folder_without_permission_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(LotError, match="may not be opened or written"):
        open_lot(tmp_path / "bench.lot")


def test_system_refusals_become_sentences(tmp_path):
    import errno

    for number, says in ((errno.EACCES, "may not be"), (errno.ENOSPC, "is full")):
        with pytest.raises(LotError, match=says), told_plainly(tmp_path / "bench.lot"):
            raise OSError(number, os.strerror(number))


def test_a_disk_that_fails_is_not_a_damaged_lot(tmp_path):
    failed = sqlite3.OperationalError("disk I/O error")
    failed.sqlite_errorcode = sqlite3.SQLITE_IOERR_WRITE
    with pytest.raises(LotError, match="could not be read or written"), told_plainly(tmp_path):
        raise failed


def test_a_lot_of_a_version_below_zero_is_damaged(tmp_path):
    path = tmp_path / "bench.lot"
    open_lot(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = -3")
    with pytest.raises(LotError, match="its version cannot be read"):
        open_lot(path)
