"""What was read of each board, kept until an action touches that board.

The page asks for all boards several times after each tap. A tap changes one of them, and the
journal says which: only that one is read again, so that a tap costs the same in a large lot.
"""

import sqlite3
from collections.abc import Callable, Iterable
from typing import Generic, TypeVar

from scanner.storage import journal

Kept = TypeVar("Kept")
# Place in the lot and id (that is the lot's order), and what was read.
BoardRow = tuple[int, str, Kept]

# After more actions than these all boards are read: their rows in the journal are as long.
_MOST_ACTIONS = 50


class KeptBoards(Generic[Kept]):
    """One reading of all boards of a lot; whoever asks holds the lot's lock.

    Parameters
    ----------
    read
        Gives the rows of all boards, or of the named one.
    """

    def __init__(
        self, read: Callable[[sqlite3.Connection, str | None], Iterable[BoardRow[Kept]]]
    ) -> None:
        self._read = read
        self._at: int | None = None
        self._rows: dict[str, BoardRow[Kept]] = {}

    def all(self, connection: sqlite3.Connection) -> tuple[Kept, ...]:
        """Return what stands in the lot now, in its order."""
        # Asked first: what another process writes meanwhile is read again the next time.
        now = journal.revision(connection)
        if now != self._at:
            self._refresh(connection, now)
        return tuple(kept for _, _, kept in sorted(self._rows.values(), key=lambda row: row[:2]))

    def _refresh(self, connection: sqlite3.Connection, now: int) -> None:
        if self._at is None or not 0 <= now - self._at <= _MOST_ACTIONS:
            rows = {row[1]: row for row in self._read(connection, None)}
        else:
            rows = dict(self._rows)
            for board_id in journal.boards_touched(connection, self._at):
                rows.pop(board_id, None)
                rows.update({row[1]: row for row in self._read(connection, board_id)})
        # Only what could be read whole is kept.
        self._rows, self._at = rows, now
