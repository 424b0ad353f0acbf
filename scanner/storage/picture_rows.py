"""Pictures as rows: which are kept beside the lot, and which of them show which face of a board."""

import sqlite3
from collections.abc import Mapping
from dataclasses import replace

from scanner.board.board import Board
from scanner.storage.photos import StoredPicture


def add(connection: sqlite3.Connection, picture: StoredPicture) -> None:
    """Note a stored picture; one that is known stays as it is."""
    connection.execute(
        "INSERT INTO picture (file, name, bytes) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
        (picture.file, picture.name, picture.size),
    )


def files(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Return the file names of all stored pictures."""
    return tuple(row[0] for row in connection.execute("SELECT file FROM picture"))


def set_photos(
    connection: sqlite3.Connection, board_id: str, photos: Mapping[int, tuple[StoredPicture, ...]]
) -> None:
    """Note which stored photos show which face of a board, in place of what was noted."""
    connection.execute("DELETE FROM photo WHERE board = ?", (board_id,))
    connection.executemany(
        "INSERT INTO photo (board, face, place, file) VALUES (?, ?, ?, ?)",
        [
            (board_id, face, place, photo.file)
            for face, pictures in photos.items()
            for place, photo in enumerate(pictures)
        ],
    )


def photos_of(
    connection: sqlite3.Connection, board_id: str
) -> dict[int, tuple[StoredPicture, ...]]:
    """Return the stored photos of a board by face, in their order."""
    found: dict[int, tuple[StoredPicture, ...]] = {}
    for face, file, name, size in connection.execute(
        """SELECT face, file, name, bytes FROM photo JOIN picture USING (file)
           WHERE board = ? ORDER BY face, place""",
        (board_id,),
    ):
        found[face] = (*found.get(face, ()), StoredPicture(file, name, size))
    return found


def with_stored_pictures(board: Board, stored: Mapping[int, StoredPicture]) -> Board:
    """Return the board with its faces' pictures named as they are stored in the lot."""
    return replace(
        board,
        faces={
            number: replace(face, picture=stored[number].file) if number in stored else face
            for number, face in board.faces.items()
        },
    )
