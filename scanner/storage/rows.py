"""Boards, flaws and facts as rows: read them, compare two boards, carry out changes."""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import TypeVar

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawState
from scanner.storage.journal import Change
from scanner.storage.kept_boards import BoardRow
from scanner.storage.values import DocumentError, Json, from_document, to_document

Kept = TypeVar("Kept")
_ALL_BUT_FLAWS = tuple(field.name for field in fields(Board) if field.name != "flaws")


def read_boards(
    connection: sqlite3.Connection, board_id: str | None = None
) -> list[BoardRow[Board]]:
    """Return the boards in the order of the lot, each with its flaws; or only the named one."""
    flaws: dict[str, list[Flaw]] = {}
    which, names = _which(board_id, "WHERE board = ?")
    for board, value in connection.execute(
        f"SELECT board, value FROM flaw {which} ORDER BY board, place, id", names
    ):
        flaws.setdefault(board, []).append(_flaw(value))
    which, names = _which(board_id, "WHERE id = ?")
    # Put in order here: for rows as long as these SQLite would write a file to sort them.
    rows = sorted(connection.execute(f"SELECT place, id, value FROM board {which}", names))
    return [
        (place, name, _bare_board(value).with_flaws(tuple(flaws.get(name, ()))))
        for place, name, value in rows
    ]


def _which(board_id: str | None, where: str) -> tuple[str, tuple[str, ...]]:
    """Return a condition with its value, both empty where all boards are meant."""
    return ("", ()) if board_id is None else (where, (board_id,))


# A tap changes one row of a lot; errands read one board, or all, again and again. The values are
# frozen, so one of them may be handed out again. Of a lot with more rows than are kept each reading
# reads all anew (200 boards: 1.1 s instead of 0.02); kept they take some 0.13 MB a board.
@lru_cache(maxsize=1000)
def _bare_board(value: str) -> Board:
    return from_document(Board, parse(value))


@lru_cache(maxsize=12000)
def _flaw(value: str) -> Flaw:
    return from_document(Flaw, parse(value))


@dataclass(frozen=True, slots=True)
class BoardStanding:
    """How far a board is looked over: possible flaws left open, faces not looked over."""

    id: str
    open_flaws: int
    faces_to_do: tuple[int, ...]

    @property
    def is_done(self) -> bool:
        """Whether both faces are looked over."""
        return not self.faces_to_do


def read_standings(
    connection: sqlite3.Connection, board_id: str | None = None
) -> list[BoardRow[BoardStanding]]:
    """Return the standing of each board, or of the named one; no outline is read."""
    which, names = _which(board_id, "WHERE board.id = ?")
    rows = connection.execute(
        f"""SELECT place, id, count(flaw) FILTER (WHERE state = ?), one, two FROM (
               SELECT board.id, board.place, flaw.id AS flaw,
                      json_extract(flaw.value, '$.state') AS state,
                      json_extract(board.value, '$.faces.1.looked_over') AS one,
                      json_extract(board.value, '$.faces.2.looked_over') AS two
               FROM board LEFT JOIN flaw ON flaw.board = board.id {which})
           GROUP BY id ORDER BY place, id""",
        (FlawState.POSSIBLE.value, *names),
    )
    return [
        # json_extract gives 1, 0, or None where the board has no such face.
        (
            place,
            name,
            BoardStanding(
                name, count, tuple(face for face, done in ((1, one), (2, two)) if done == 0)
            ),
        )
        for place, name, count, one, two in rows
    ]


def read_fact(connection: sqlite3.Connection, name: str) -> Json:
    """Return what the lot says under a name, or None."""
    row = connection.execute("SELECT value FROM fact WHERE name = ?", (name,)).fetchone()
    return parse(row[0]) if row else None


def fact(connection: sqlite3.Connection, name: str, usual: Kept) -> Kept:
    """Return what is kept under a name, or the usual value where nothing was said yet."""
    document = read_fact(connection, name)
    return usual if document is None else from_document(type(usual), document)


def fact_changes(connection: sqlite3.Connection, name: str, after: Json) -> tuple[Change, ...]:
    """Return the change that keeps another document under a name; none where it is the same."""
    before = read_fact(connection, name)
    return () if before == after else (Change("fact", (name,), before, after),)


def next_place(connection: sqlite3.Connection) -> int:
    """Return the place after the last board."""
    row = connection.execute("SELECT coalesce(max(place), 0) + 1 FROM board").fetchone()
    return int(row[0])


def place_of(connection: sqlite3.Connection, board_id: str) -> int | None:
    """Return the place of a board in the lot, None where it has none."""
    row = connection.execute("SELECT place FROM board WHERE id = ?", (board_id,)).fetchone()
    return int(row[0]) if row else None


def difference(before: Board | None, after: Board | None, place: int) -> tuple[Change, ...]:
    """Return the changes that lead from one state of a board to another.

    A board comes before its flaws and goes after them, as the foreign key asks.
    """
    changes = [*_flaw_changes(before, after)]
    if _same_but_flaws(before, after):
        return tuple(changes)
    old, new = _board_row(before, place), _board_row(after, place)
    if old != new:
        change = Change("board", (_id_of(before, after),), old, new)
        changes = [change, *changes] if after is not None else [*changes, change]
    return tuple(changes)


def carry_out(connection: sqlite3.Connection, changes: Iterable[Change]) -> None:
    """Write each change to its table."""
    for change in changes:
        match change.table:
            case "board":
                _write_board(connection, change)
            case "flaw":
                _write_flaw(connection, change)
            case "fact":
                _write_fact(connection, change)


def _board_row(board: Board | None, place: int) -> Json:
    if board is None:
        return None
    return {"place": place, "value": to_document(replace(board, flaws=()))}


def _same_but_flaws(before: Board | None, after: Board | None) -> bool:
    """Whether a change left all but the flaws alone, as most do: they are the same objects."""
    if before is None or after is None:
        return False
    return all(getattr(before, name) is getattr(after, name) for name in _ALL_BUT_FLAWS)


def _flaw_rows(board: Board | None, without: set[str]) -> dict[str, Json]:
    if board is None:
        return {}
    return {
        flaw.id: {"place": place, "value": to_document(flaw)}
        for place, flaw in enumerate(board.flaws)
        if flaw.id not in without
    }


def _untouched(before: Board, after: Board) -> set[str]:
    both = zip(before.flaws, after.flaws, strict=False)
    return {old.id for old, new in both if old is new}


def _id_of(before: Board | None, after: Board | None) -> str:
    board = before or after
    assert board is not None
    return board.id


def _flaw_changes(before: Board | None, after: Board | None) -> list[Change]:
    board_id = _id_of(before, after)
    # What an action left alone is the same object in the same place: most of a long list.
    same = set() if before is None or after is None else _untouched(before, after)
    old, new = _flaw_rows(before, same), _flaw_rows(after, same)
    names = [*old, *(name for name in new if name not in old)]
    return [
        Change("flaw", (board_id, name), old.get(name), new.get(name))
        for name in names
        if old.get(name) != new.get(name)
    ]


def _write_board(connection: sqlite3.Connection, change: Change) -> None:
    (board_id,) = change.key
    if change.after is None:
        connection.execute("DELETE FROM board WHERE id = ?", (board_id,))
        return
    place, value = _placed(change.after)
    connection.execute(
        """INSERT INTO board (id, place, value) VALUES (?, ?, ?)
           ON CONFLICT (id) DO UPDATE SET place = excluded.place, value = excluded.value""",
        (board_id, place, value),
    )


def _write_flaw(connection: sqlite3.Connection, change: Change) -> None:
    board_id, flaw_id = change.key
    if change.after is None:
        connection.execute("DELETE FROM flaw WHERE board = ? AND id = ?", (board_id, flaw_id))
        return
    place, value = _placed(change.after)
    connection.execute(
        """INSERT INTO flaw (board, id, place, value) VALUES (?, ?, ?, ?)
           ON CONFLICT (board, id) DO UPDATE SET place = excluded.place, value = excluded.value""",
        (board_id, flaw_id, place, value),
    )


def _write_fact(connection: sqlite3.Connection, change: Change) -> None:
    (name,) = change.key
    if change.after is None:
        connection.execute("DELETE FROM fact WHERE name = ?", (name,))
        return
    connection.execute(
        """INSERT INTO fact (name, value) VALUES (?, ?)
           ON CONFLICT (name) DO UPDATE SET value = excluded.value""",
        (name, dump(change.after)),
    )


def _placed(row: Json) -> tuple[int, str]:
    place = row.get("place") if isinstance(row, Mapping) else None
    if not isinstance(row, Mapping) or not isinstance(place, int):
        raise DocumentError("a journal row names no place")
    return place, dump(row.get("value"))


def dump(document: Json) -> str:
    """Return a document as the text of a column."""
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"))


def parse(text: str) -> Json:
    """Return the document that a column holds."""
    try:
        document: Json = json.loads(text)
    except json.JSONDecodeError as error:
        raise DocumentError(str(error)) from error
    return document
