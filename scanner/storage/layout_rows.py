"""Layouts as rows: the newest of the lot's present state, and earlier ones to go back to.

A layout is made from a state of the lot. Undo and redo lead back to a state that a layout was made
from before, and that layout holds again: the page need not place the parts anew.
"""

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

from scanner.placement.layout import Layout, Placement
from scanner.storage import journal, rows
from scanner.storage.journal import Change
from scanner.storage.ticks import TICKS, Ticks, copy_of, is_same_place
from scanner.storage.values import Json, from_document, to_document

# How many layouts are kept: the newest, and some to compare it with or go back to.
_LAYOUTS_KEPT = 20
# Facts of these names say nothing that a layout follows from.
NOTE = "note-"


@dataclass(frozen=True, slots=True)
class SavedLayout:
    """A layout, and the revision of the lot that it was made from.

    Where it was made from the lot as it is now, this is the lot's own revision, even if the lot
    was changed and changed back meanwhile.
    """

    layout: Layout
    revision: int


def save(connection: sqlite3.Connection, layout: Layout, revision: int) -> None:
    """Keep a layout that was made from the lot as it was at a revision; let the oldest go."""
    connection.execute(
        "INSERT INTO layout (revision, made_at, value) VALUES (?, ?, ?)",
        (revision, _now(), rows.dump(to_document(layout))),
    )
    connection.execute(
        "DELETE FROM layout WHERE number <= (SELECT max(number) FROM layout) - ?",
        (_LAYOUTS_KEPT,),
    )


def newest(connection: sqlite3.Connection) -> SavedLayout | None:
    """Return the layout that stands for the lot as it is now (see `_row_of`)."""
    found = _row_of(connection, journal.revision(connection))
    return None if found is None else SavedLayout(_layout(connection, found[0]), found[1])


def newest_revision(connection: sqlite3.Connection) -> int | None:
    """Return the revision that `newest` was made from, without reading it."""
    found = _row_of(connection, journal.revision(connection))
    return None if found is None else found[1]


def by_undo(connection: sqlite3.Connection) -> Layout | None:
    """Return the layout that holds again after one undo; None where that state has none."""
    entry = journal.next_to_walk(connection, "undo")
    if entry is None or not _is_known(connection, entry.number - 1):
        return None
    found = _row_of(connection, entry.number - 1)
    return None if found is None else _layout(connection, found[0])


def every(connection: sqlite3.Connection) -> Iterator[Layout]:
    """Yield the kept layouts, newest first."""
    newest_first = "SELECT number FROM layout ORDER BY revision DESC, number DESC"
    for (number,) in connection.execute(newest_first).fetchall():
        yield _layout(connection, number)


def carry(
    connection: sqlite3.Connection, changes: tuple[Change, ...], before: int, now: int
) -> None:
    """Let a layout stay up to date through notes, and ticks of parts where they lie.

    Spoiled wood is another matter: its part is asked for again. A part that was moved, or turned
    over, or not wanted on its board, needs a layout made anew.
    """
    # What was done again or taken back has a layout of its own.
    if not _only_ticks(changes) or _is_known(connection, now):
        return
    found = _row_of(connection, before)
    if found is None or found[1] != before:
        return
    layout = _layout(connection, found[0])
    if all(_lies_there(layout, tick) for tick in _changed(changes)):
        connection.execute("UPDATE layout SET revision = ? WHERE number = ?", (now, found[0]))


def _only_ticks(changes: Iterable[Change]) -> bool:
    def spoiled(document: Json) -> Json:
        return document["spoiled"] if isinstance(document, dict) else []

    return all(
        change.table == "fact"
        and (
            is_note(change.key)
            or (change.key == (TICKS,) and spoiled(change.before) == spoiled(change.after))
        )
        for change in changes
    )


def is_note(key: tuple[str | int, ...]) -> bool:
    """Whether a fact is a note: what is said of a layout without changing what is asked for."""
    return str(key[0]).startswith(NOTE)


def _changed(changes: Iterable[Change]) -> Iterator[Placement]:
    """Yield the ticks that a change sets."""
    for change in changes:
        if change.key == (TICKS,) and change.after is not None:
            before = () if change.before is None else from_document(Ticks, change.before).placements
            after = from_document(Ticks, change.after).placements
            yield from (tick for tick in after if tick not in before)


def _lies_there(layout: Layout, tick: Placement) -> bool:
    return any(
        copy_of(placed) == copy_of(tick)
        and is_same_place(placed, tick)
        and placed.show_face == tick.show_face
        for placed in layout.placements
    )


def _is_known(connection: sqlite3.Connection, revision: int) -> bool:
    found = _row_of(connection, revision)
    return found is not None and found[1] == revision


def _row_of(connection: sqlite3.Connection, revision: int) -> tuple[int, int] | None:
    """Return number and revision of the layout that stands for a state of the lot.

    It is the newest of that state, else of the nearest state that led to it; what was undone on
    the way did not. Where none of them has one, the newest of all stands in.
    """
    kept = connection.execute(
        "SELECT number, revision FROM layout ORDER BY revision DESC, number DESC"
    ).fetchall()
    if not kept:
        # Before the first layout every page asks, and the whole journal would be read for nothing.
        return None
    newest_of: dict[int, tuple[int, int]] = {}
    for number, made_from in kept:
        newest_of.setdefault(journal.state_at(connection, made_from), (number, made_from))
    state = journal.state_at(connection, revision)
    if state in newest_of:
        return newest_of[state][0], revision
    oldest = max(min(newest_of), 0)
    while state > oldest and state not in newest_of:
        state = journal.state_at(connection, state - 1)
    return newest_of.get(state) or kept[0]


def _layout(connection: sqlite3.Connection, number: int) -> Layout:
    row = connection.execute("SELECT value FROM layout WHERE number = ?", (number,)).fetchone()
    return _read_layout(row[0])


# The page reads the newest several times after each tap, and the values are frozen.
@lru_cache(maxsize=2 * _LAYOUTS_KEPT)
def _read_layout(value: str) -> Layout:
    return from_document(Layout, rows.parse(value))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
