"""`Lot`: the front door to a lot file.

Every write is one transaction. What a person does is one row of the journal too; layouts, pictures
and which photo shows which face are kept beside it. There is one door and no second way in; what
each kind of row means stands in the modules beside it.
"""

import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from scanner.board.board import Board
from scanner.errors import LotError
from scanner.placement.layout import Layout
from scanner.placement.shop import Shop
from scanner.storage import journal, layout_rows, picture_rows, rows
from scanner.storage.hand_rules import HAND, HandRules
from scanner.storage.journal import Act, Answer, Change, Stamp
from scanner.storage.kept_boards import KeptBoards
from scanner.storage.layout_rows import SavedLayout as SavedLayout
from scanner.storage.parts_kept import DRAWINGS, Drawings, Drawn
from scanner.storage.parts_kept import PartsText as PartsText
from scanner.storage.photos import StoredPicture, find_picture, keep_picture, photo_folder
from scanner.storage.picture_rows import with_stored_pictures as with_stored_pictures
from scanner.storage.refusals import told_plainly
from scanner.storage.rows import BoardStanding
from scanner.storage.schema import connect, connect_to_copy, copy_database
from scanner.storage.ticks import TICKS, Ticks, with_ticks
from scanner.storage.values import Json, from_document, to_document


@dataclass(frozen=True, slots=True)
class Action:
    """One thing the user does to one board.

    ``change`` gives the board after it; it runs inside the transaction, on the newest state.
    """

    stamp: Stamp
    board: str
    said: str
    change: Callable[[Board], Board]


class Lot:
    """An open lot file. Threads may share it; they take turns."""

    def __init__(self, path: Path, connect: Callable[[Path], sqlite3.Connection] = connect) -> None:
        self.path = path
        self.folder = photo_folder(path)
        self._turn = threading.RLock()
        self._boards = KeptBoards(rows.read_boards)
        self._standings = KeptBoards(rows.read_standings)
        with told_plainly(path):
            self._connection = connect(path)

    def close(self) -> None:
        """Close the file."""
        with self._turn:
            self._connection.close()

    @property
    def revision(self) -> int:
        """How many actions the journal holds: grows by one with each."""
        with self._reading() as connection:
            return journal.revision(connection)

    def boards(self) -> tuple[Board, ...]:
        """Return the boards in the order they came in."""
        with self._reading() as connection:
            return self._boards.all(connection)

    def standings(self) -> tuple[BoardStanding, ...]:
        """Return how far each board is looked over, quickly, in the order of the lot."""
        with self._reading() as connection:
            return self._standings.all(connection)

    def board(self, board_id: str) -> Board:
        """Return one board.

        Raises
        ------
        LotError
            The lot has no such board.
        """
        with self._reading() as connection:
            return self._one_board(connection, board_id)

    def save_board(self, board: Board, stamp: Stamp, said: str = "") -> Answer:
        """Add a board, or replace the one with the same id (scanned anew)."""

        def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
            place = rows.place_of(connection, board.id)
            before = None if place is None else self._one_board(connection, board.id)
            if place is None:
                place = rows.next_place(connection)
            return rows.difference(before, board, place)

        return self._do(stamp, said or f"added board {board.id}", changes)

    def remove_board(self, board_id: str, stamp: Stamp) -> Answer:
        """Take a board out of the lot; its photos stay in the folder."""

        def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
            before = self._one_board(connection, board_id)
            return rows.difference(before, None, rows.place_of(connection, board_id) or 0)

        return self._do(stamp, f"took out board {board_id}", changes)

    def record(self, action: Action) -> Answer:
        """Carry out one action on a board."""

        def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
            before = self._one_board(connection, action.board)
            place = rows.place_of(connection, action.board) or 0
            return rows.difference(before, action.change(before), place)

        return self._do(action.stamp, action.said, changes)

    def has_done(self, stamp: Stamp) -> bool:
        """Return whether the journal holds an action of this stamp."""
        with self._reading() as connection:
            return journal.known(connection, stamp)

    def undo(self, stamp: Stamp) -> Answer:
        """Take back the last action that stands."""
        return self._walk(stamp, "undo")

    def redo(self, stamp: Stamp) -> Answer:
        """Do again the action that was taken back last."""
        return self._walk(stamp, "redo")

    def next_undo(self) -> str | None:
        """Return what undo would take back, in words, or None."""
        with self._reading() as connection:
            entry = journal.next_to_walk(connection, "undo")
            return entry.said if entry else None

    def next_redo(self) -> str | None:
        """Return what redo would do again, in words, or None."""
        with self._reading() as connection:
            entry = journal.next_to_walk(connection, "redo")
            return entry.said if entry else None

    def parts_text(self) -> PartsText | None:
        """Return the parts list as text, or None where none was given yet."""
        with self._reading() as connection:
            document = rows.read_fact(connection, "parts")
            return None if document is None else from_document(PartsText, document)

    def drawings(self) -> Drawings:
        """Return the outlines of curved parts by the names of their drawings."""
        with self._reading() as connection:
            return rows.fact(connection, DRAWINGS, Drawn({})).outlines

    def set_parts_text(
        self, parts: PartsText, stamp: Stamp, drawings: Drawings | None = None
    ) -> Answer:
        """Keep another parts list, and the drawings of its curved parts where these change."""

        def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
            more: tuple[Change, ...] = ()
            if drawings is not None:
                more = rows.fact_changes(connection, DRAWINGS, to_document(Drawn(drawings)))
            return (*rows.fact_changes(connection, "parts", to_document(parts)), *more)

        return self._do(stamp, f"took parts list {parts.name}", changes)

    def set_drawings(self, drawings: Drawings, stamp: Stamp, said: str) -> Answer:
        """Keep other drawings of curved parts; the parts list stays."""
        return self._set_fact(DRAWINGS, to_document(Drawn(drawings)), stamp, said)

    def shop(self) -> Shop:
        """Return the shop's settings, the defaults where none were set."""
        with self._reading() as connection:
            return rows.fact(connection, "shop", Shop())

    def set_shop(self, shop: Shop, stamp: Stamp) -> Answer:
        """Keep other shop settings."""
        return self._set_fact("shop", to_document(shop), stamp, "changed the shop settings")

    def save_layout(self, layout: Layout, revision: int) -> None:
        """Keep a layout that was made from the lot as it was at a revision."""
        with self._writing() as connection:
            layout_rows.save(connection, layout, revision)

    def layout(self) -> SavedLayout | None:
        """Return the newest layout of the lot as it is now, else of what led to it, else of all."""
        with self._reading() as connection:
            saved, ticks = layout_rows.newest(connection), rows.fact(connection, TICKS, Ticks())
            return saved and replace(saved, layout=with_ticks(saved.layout, ticks))

    def layout_by_undo(self) -> Layout | None:
        """Return the layout, as it was made, that one undo brings back, or None."""
        with self._reading() as connection:
            return layout_rows.by_undo(connection)

    def layouts(self) -> tuple[Layout, ...]:
        """Return the kept layouts, newest first, as they were made."""
        with self._reading() as connection:
            return tuple(layout_rows.every(connection))

    def ticks(self) -> Ticks:
        """Return what became of parts in the shop."""
        with self._reading() as connection:
            return rows.fact(connection, TICKS, Ticks())

    def hand_rules(self) -> HandRules:
        """Return what the user asked for on the layout itself."""
        with self._reading() as connection:
            return rows.fact(connection, HAND, HandRules())

    def tick(
        self,
        stamp: Stamp,
        said: str,
        change: Callable[[Ticks, Iterable[Layout]], Ticks],
        notes: Mapping[str, Json] = MappingProxyType({}),
    ) -> Answer:
        """Change what became of parts; ``change`` is given the kept layouts too, newest first.

        ``notes``, as of `set_note`, belong to the same action: one undo takes all of it back.
        """

        def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
            after = change(rows.fact(connection, TICKS, Ticks()), layout_rows.every(connection))
            return (
                *rows.fact_changes(connection, TICKS, to_document(after)),
                *(
                    one
                    for name, document in notes.items()
                    for one in rows.fact_changes(connection, layout_rows.NOTE + name, document)
                ),
            )

        return self._do(stamp, said, changes)

    def set_hand_rules(
        self, stamp: Stamp, said: str, change: Callable[[HandRules, Ticks], tuple[HandRules, Ticks]]
    ) -> Answer:
        """Change what the user asked for on the layout, and which parts stay where they lie."""

        def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
            rules, ticks = change(
                rows.fact(connection, HAND, HandRules()), rows.fact(connection, TICKS, Ticks())
            )
            return (
                *rows.fact_changes(connection, HAND, to_document(rules)),
                *rows.fact_changes(connection, TICKS, to_document(ticks)),
            )

        return self._do(stamp, said, changes)

    def note(self, name: str) -> Json:
        """Return what was noted beside the layout under a name, None where nothing was."""
        with self._reading() as connection:
            return rows.read_fact(connection, layout_rows.NOTE + name)

    def set_note(self, name: str, document: Json, stamp: Stamp, said: str) -> Answer:
        """Note something beside the layout: the layout stays up to date."""
        return self._set_fact(layout_rows.NOTE + name, document, stamp, said)

    def layout_revision(self) -> int | None:
        """Return the revision that `layout` was made from, None without a layout."""
        with self._reading() as connection:
            return layout_rows.newest_revision(connection)

    def keep_picture(self, picture: bytes, name: str) -> StoredPicture:
        """Keep a picture with its position blanked; the user's own file is not touched."""
        with told_plainly(self.path):
            kept = keep_picture(self.folder, picture, Path(name).name)
        with self._writing() as connection:
            picture_rows.add(connection, kept)
        return kept

    def picture_names(self) -> tuple[str, ...]:
        """Return the names of all stored pictures."""
        with self._reading() as connection:
            return picture_rows.files(connection)

    def copy_file(self, target: Path) -> None:
        """Write a copy of the lot file, whole and of one moment."""
        with self._reading() as connection:
            copy_database(connection, target)

    def set_photos(self, board_id: str, photos: Mapping[int, tuple[StoredPicture, ...]]) -> None:
        """Keep which stored photos show which face of a board."""
        with self._writing() as connection:
            picture_rows.set_photos(connection, board_id, photos)

    def photos(self, board_id: str) -> dict[int, tuple[StoredPicture, ...]]:
        """Return the stored photos of a board by face."""
        with self._reading() as connection:
            return picture_rows.photos_of(connection, board_id)

    def picture(self, file: str) -> Path | None:
        """Return where a stored picture lies, or None."""
        return find_picture(self.folder, file)

    def _one_board(self, connection: sqlite3.Connection, board_id: str) -> Board:
        found = rows.read_boards(connection, board_id)
        if not found:
            raise LotError(f"{self.path.name} has no board {board_id}", "choose one of its boards")
        return found[0][2]

    def _set_fact(self, name: str, document: Json, stamp: Stamp, said: str) -> Answer:
        return self._do(
            stamp, said, lambda connection: rows.fact_changes(connection, name, document)
        )

    def _do(
        self, stamp: Stamp, said: str, find: Callable[[sqlite3.Connection], tuple[Change, ...]]
    ) -> Answer:
        with self._writing() as connection:
            now = journal.revision(connection)
            if journal.known(connection, stamp):
                return Answer(stamp.operation, "known", now)
            changes = find(connection)
            if not changes:
                return Answer(stamp.operation, "nothing", now)
            if journal.is_stale(connection, stamp, journal.keys_of(changes)):
                return Answer(stamp.operation, "stale", now, said)
            rows.carry_out(connection, changes)
            number = journal.write(connection, stamp, "do", said, changes)
            layout_rows.carry(connection, changes, now, number)
            return Answer(stamp.operation, "done", number, said)

    def _walk(self, stamp: Stamp, act: Act) -> Answer:
        with self._writing() as connection:
            now = journal.revision(connection)
            if journal.known(connection, stamp):
                return Answer(stamp.operation, "known", now)
            entry = journal.next_to_walk(connection, act)
            if entry is None:
                return Answer(stamp.operation, "nothing", now)
            # Whatever another window did since would be taken back unseen.
            if journal.is_stale(connection, stamp, None):
                return Answer(stamp.operation, "stale", now, entry.said)
            changes = entry.changes
            if act == "undo":
                changes = tuple(change.turned() for change in reversed(changes))
            rows.carry_out(connection, changes)
            number = journal.write(connection, stamp, act, entry.said, target=entry.number)
            layout_rows.carry(connection, changes, now, number)
            return Answer(stamp.operation, "done", number, entry.said)

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with self._turn, told_plainly(self.path):
            yield self._connection

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._turn, told_plainly(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield self._connection
                self._connection.execute("COMMIT")
            except BaseException:
                # A full disk may have ended the transaction already.
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise


def open_lot(path: Path, *, create: bool = True) -> Lot:
    """Open a lot file, or begin a new one.

    Raises
    ------
    LotError
        The file is missing (and not to be created), no lot, damaged, of a newer release, or may
        not be read and written.
    """
    if not create and not path.is_file():
        raise LotError(f"There is no lot file {path.name}", "look for it, or begin a new lot")
    return Lot(path)


@contextmanager
def look_into_lot(path: Path) -> Iterator[Lot]:
    """Yield a lot as it is at this moment, to read only: its file is not written to.

    Raises
    ------
    LotError
        The file is missing, no lot, damaged, of a newer release, or may not be read.
    """
    if not path.is_file():
        raise LotError(f"There is no lot file {path.name}", "look where it lies")
    lot = Lot(path, connect_to_copy)
    try:
        yield lot
    finally:
        lot.close()
