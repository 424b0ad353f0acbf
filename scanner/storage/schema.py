"""Open the SQLite file of a lot; numbered migrations."""

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path

from scanner.storage.refusals import damaged, not_a_lot, too_new

# "both" in ASCII: tells a lot from any other SQLite file (PRAGMA application_id).
APPLICATION_ID = 0x626F7468
_SQLITE_HEAD = b"SQLite format 3\x00"
_PATIENCE_S = 5.0

Migration = Callable[[sqlite3.Connection], None]


def _first_tables(connection: sqlite3.Connection) -> None:
    """Make the tables of release 1."""
    for statement in (
        # Parts list and shop settings: what holds for the whole lot.
        "CREATE TABLE fact (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
        """CREATE TABLE board (
            id TEXT PRIMARY KEY, place INTEGER NOT NULL,
            value TEXT NOT NULL CHECK (json_valid(value))) STRICT""",
        """CREATE TABLE flaw (
            board TEXT NOT NULL REFERENCES board (id), id TEXT NOT NULL, place INTEGER NOT NULL,
            value TEXT NOT NULL CHECK (json_valid(value)), PRIMARY KEY (board, id)) STRICT""",
        "CREATE TABLE picture (file TEXT PRIMARY KEY, name TEXT NOT NULL, bytes INTEGER NOT NULL)"
        " STRICT",
        # No reference to board: undoing a scan takes the board away, its photos stay.
        """CREATE TABLE photo (
            board TEXT NOT NULL, face INTEGER NOT NULL CHECK (face IN (1, 2)),
            place INTEGER NOT NULL, file TEXT NOT NULL REFERENCES picture (file),
            PRIMARY KEY (board, face, place)) STRICT""",
        """CREATE TABLE layout (
            number INTEGER PRIMARY KEY, revision INTEGER NOT NULL, made_at TEXT NOT NULL,
            value TEXT NOT NULL CHECK (json_valid(value))) STRICT""",
        """CREATE TABLE journal (
            number INTEGER PRIMARY KEY,
            operation TEXT NOT NULL UNIQUE,
            client TEXT NOT NULL,
            base_revision INTEGER NOT NULL,
            act TEXT NOT NULL CHECK (act IN ('do', 'undo', 'redo')),
            target INTEGER NOT NULL,
            standing TEXT NOT NULL CHECK (standing IN ('done', 'undone', 'dropped')),
            said TEXT NOT NULL,
            changes TEXT NOT NULL CHECK (json_valid(changes)),
            at TEXT NOT NULL) STRICT""",
        "CREATE INDEX journal_standing ON journal (act, standing, number)",
    ):
        connection.execute(statement)


def _drawings_of_parts(connection: sqlite3.Connection) -> None:
    """Let the fact ``drawings`` hold the outlines of curved parts; no table changes.

    Release 1 does not know it and would lay rectangles: the number makes it refuse the lot.
    """


# Never edit a released one; append.
MIGRATIONS: tuple[Migration, ...] = (_first_tables, _drawings_of_parts)


def connect(lot: Path, migrations: Sequence[Migration] = MIGRATIONS) -> sqlite3.Connection:
    """Open or make a lot file, bring it up to date, and return its connection.

    Raises
    ------
    LotError
        The file is no lot, damaged, or of a newer release.
    """
    _refuse_other_files(lot)
    # Threads take turns behind the lot's own lock, see `lots.py`.
    connection = sqlite3.connect(
        lot, timeout=_PATIENCE_S, isolation_level=None, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        _refuse_strangers(connection, lot, len(migrations))
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        _migrate(connection, lot, migrations)
    except BaseException:
        connection.close()
        raise
    return connection


def connect_to_copy(lot: Path, migrations: Sequence[Migration] = MIGRATIONS) -> sqlite3.Connection:
    """Return a connection to a copy of a lot in memory, up to date; the file stays as it is.

    The copy is of one moment, also while the page has the lot open, and takes no writing.

    Raises
    ------
    LotError
        The file is no lot, damaged, or of a newer release.
    """
    _refuse_other_files(lot)
    # Reading a lot that nobody has open would leave the two files of a write-ahead log beside it,
    # and fail where the folder is read-only (SQLite, "Write-Ahead Logging", section 5).
    is_open = lot.with_name(f"{lot.name}-wal").exists()
    how = "mode=ro" if is_open else "immutable=1"
    connection = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    try:
        uri = f"{lot.resolve().as_uri()}?{how}"
        with closing(sqlite3.connect(uri, timeout=_PATIENCE_S, uri=True)) as file:
            file.backup(connection)
        _refuse_strangers(connection, lot, len(migrations))
        _carry_out(connection, migrations)
        connection.execute("PRAGMA query_only = ON")
    except BaseException:
        connection.close()
        raise
    return connection


def _refuse_other_files(lot: Path) -> None:
    if lot.is_file() and lot.stat().st_size:
        with lot.open("rb") as file:
            if file.read(len(_SQLITE_HEAD)) != _SQLITE_HEAD:
                raise not_a_lot(lot)


def _number(connection: sqlite3.Connection, pragma: str) -> int:
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])


def _refuse_strangers(connection: sqlite3.Connection, lot: Path, newest: int) -> None:
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and _number(connection, "application_id") != APPLICATION_ID:
        raise not_a_lot(lot)
    version = _number(connection, "user_version")
    if version > newest:
        raise too_new(lot)
    if version < 0:
        raise damaged(lot, "its version cannot be read")
    verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        raise damaged(lot, str(verdict).splitlines()[0])


def _migrate(connection: sqlite3.Connection, lot: Path, migrations: Sequence[Migration]) -> None:
    version = _number(connection, "user_version")
    if version == len(migrations):
        return
    if version:
        _back_up(connection, lot, version)
    _carry_out(connection, migrations)


def _carry_out(connection: sqlite3.Connection, migrations: Sequence[Migration]) -> None:
    if _number(connection, "user_version") == len(migrations):
        return
    # All changes and their record in one transaction: a kill or a full disk leaves the old
    # version whole, and never a lot of a form between.
    connection.execute("BEGIN IMMEDIATE")
    try:
        for change in migrations[_number(connection, "user_version") :]:
            change(connection)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(migrations)}")
        connection.execute("COMMIT")
    except BaseException:
        # A full disk may have ended the transaction already.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _back_up(connection: sqlite3.Connection, lot: Path, version: int) -> None:
    copy = lot.with_name(f"{lot.name}.schema-{version}")
    beside = copy.with_name(f"{copy.name}.half")
    beside.unlink(missing_ok=True)
    copy_database(connection, beside)
    beside.replace(copy)


def copy_database(connection: sqlite3.Connection, target: Path) -> None:
    """Write all of a database into another file, as it is at one moment."""
    with closing(sqlite3.connect(target)) as copy:
        connection.backup(copy)
