"""The journal: every action of the user is one row; undo and redo walk the rows.

A row of act ``do`` holds the changes it made as (table, key, before, after), so that it can be
taken back and done again. A row of act ``undo`` or ``redo`` points at the one it walked over.
Nothing is ever deleted; a ``do`` row that was undone before something else was done is
``dropped`` and cannot come back. The revision of a lot is the number of its newest row.
"""

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from scanner.storage.values import Json

Act = Literal["do", "undo", "redo"]
Key = tuple[str, ...]
Status = Literal["done", "known", "stale", "nothing", "refused"]


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who acts, and on what that person was looking at.

    Attributes
    ----------
    operation
        Unique name of this one action: sent twice, it is done once.
    base_revision
        Revision of the lot that the user saw.
    client
        Name of the window or command. Actions of one window never make each other stale.
    """

    operation: str
    base_revision: int
    client: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an action, and the revision of the lot after it.

    ``stale``: another window changed the same thing meanwhile, nothing was done; ``known``: done
    before; ``nothing``: there was nothing to undo, redo or change; ``refused``: it cannot be done,
    ``said`` tells why.
    """

    operation: str
    status: Status
    revision: int
    said: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """A row of a table before and after; None where it is not there."""

    table: Literal["board", "flaw", "fact"]
    key: Key
    before: Json
    after: Json

    def turned(self) -> "Change":
        """Return the change that takes this one back."""
        return Change(self.table, self.key, self.after, self.before)


@dataclass(frozen=True, slots=True)
class Entry:
    """A ``do`` row of the journal."""

    number: int
    said: str
    changes: tuple[Change, ...]


def revision(connection: sqlite3.Connection) -> int:
    """Return the number of the newest row, 0 for an empty journal."""
    row = connection.execute("SELECT coalesce(max(number), 0) FROM journal").fetchone()
    return int(row[0])


def state_at(connection: sqlite3.Connection, at: int) -> int:
    """Return what the lot held at a revision, as the number of the last ``do`` row that stood.

    Each ``do`` row follows the same rows for ever: two revisions with one such number hold the
    same. Return 0 for the empty lot and -1 for a revision that never was.
    """
    while at > 0:
        row = connection.execute(
            "SELECT act, target FROM journal WHERE number = ?", (at,)
        ).fetchone()
        if row is None:
            return -1
        act, target = row
        if act != "undo":
            return at if act == "do" else int(target)
        at = target - 1
    return 0


def known(connection: sqlite3.Connection, stamp: Stamp) -> bool:
    """Return whether an operation was done before."""
    found = connection.execute("SELECT 1 FROM journal WHERE operation = ?", (stamp.operation,))
    return found.fetchone() is not None


def is_stale(connection: sqlite3.Connection, stamp: Stamp, keys: set[Key] | None) -> bool:
    """Return whether another client changed one of the keys (None: anything) since the base."""
    others = _changes_since(connection, stamp.base_revision, stamp.client)
    return any(keys is None or keys & keys_of(_read_changes(changes)) for changes in others)


def boards_touched(connection: sqlite3.Connection, since: int) -> set[str]:
    """Return the ids of boards that rows after a revision changed, added or took away."""
    return {
        change.key[0]
        for changes in _changes_since(connection, since)
        for change in _read_changes(changes)
        if change.table in ("board", "flaw")
    }


def _changes_since(
    connection: sqlite3.Connection, since: int, not_by: str | None = None
) -> Iterator[str]:
    """Yield what each row after a revision changed; of an undo or redo, the row it walked over."""
    rows = connection.execute(
        """SELECT coalesce(aim.changes, row.changes) FROM journal AS row
           LEFT JOIN journal AS aim ON aim.number = row.target AND row.act <> 'do'
           WHERE row.number > ? AND row.client IS NOT ?""",
        (since, not_by),
    )
    yield from (changes for (changes,) in rows)


def write(
    connection: sqlite3.Connection,
    stamp: Stamp,
    act: Act,
    said: str,
    changes: Sequence[Change] = (),
    target: int = 0,
) -> int:
    """Append a row and return its number, the new revision."""
    if act == "do":
        # Only "do" rows are ever undone; with the act named the index is used, and an action costs
        # the same in a long journal as in a short one.
        connection.execute(
            "UPDATE journal SET standing = 'dropped' WHERE act = 'do' AND standing = 'undone'"
        )
    else:
        standing = "undone" if act == "undo" else "done"
        connection.execute("UPDATE journal SET standing = ? WHERE number = ?", (standing, target))
    document = [[change.table, list(change.key), change.before, change.after] for change in changes]
    cursor = connection.execute(
        """INSERT INTO journal
           (operation, client, base_revision, act, target, standing, said, changes, at)
           VALUES (?, ?, ?, ?, ?, 'done', ?, ?, ?)""",
        (
            stamp.operation,
            stamp.client,
            stamp.base_revision,
            act,
            target,
            said,
            json.dumps(document, separators=(",", ":")),
            datetime.now(UTC).isoformat(timespec="milliseconds"),
        ),
    )
    return int(cursor.lastrowid or 0)


def next_to_walk(connection: sqlite3.Connection, act: Act) -> Entry | None:
    """Return the row that undo or redo would walk over next."""
    # Undone rows stand in one run after the last done one: undo takes the newest done row, redo
    # the oldest undone one.
    order, standing = ("DESC", "done") if act == "undo" else ("ASC", "undone")
    row = connection.execute(
        f"""SELECT number, said, changes FROM journal
            WHERE act = 'do' AND standing = ? ORDER BY number {order} LIMIT 1""",
        (standing,),
    ).fetchone()
    return Entry(row[0], row[1], _read_changes(row[2])) if row else None


def _read_changes(document: str) -> tuple[Change, ...]:
    return tuple(
        Change(table, tuple(key), before, after)
        for table, key, before, after in json.loads(document)
    )


def keys_of(changes: Iterable[Change]) -> set[Key]:
    """Return what the changes touch."""
    return {(change.table, *change.key) for change in changes}
