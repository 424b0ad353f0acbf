"""Boards that a command names: ``board.json`` of scanned ones, ``boards.csv`` of typed ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.errors import BoardError
from scanner.files.board_file import read_board
from scanner.files.boards_list import read_boards_list

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from scanner.board.board import Board


def read_given_boards(
    paths: Iterable[Path], units: str = "mm"
) -> tuple[tuple[Board, ...], dict[str, Path]]:
    """Return the boards in the order given, and for each id the folder of its pictures.

    Raises
    ------
    FileError, BoardError
        A file cannot be read, or two boards have one id.
    """
    boards: list[Board] = []
    folders: dict[str, Path] = {}
    for path in paths:
        is_list = path.suffix.lower() == ".csv"
        for board in read_boards_list(path, units) if is_list else (read_board(path),):
            if board.id in folders:
                raise BoardError(f"two boards are called {board.id}", "give each board its own id")
            boards.append(board)
            folders[board.id] = path.parent
    return tuple(boards), folders
