"""Boards that a command names: ``board.json``, ``boards.csv`` of typed ones, or a whole lot."""

from __future__ import annotations

import contextlib
import json
from typing import TYPE_CHECKING

from scanner.errors import BoardError, LotError, PlacementError, ScannerError
from scanner.files.board_file import board_from_text, read_board
from scanner.files.board_rows import file_key
from scanner.files.boards_list import boards_of_text, read_boards_list
from scanner.files.parts_list import read_parts
from scanner.files.rows import TABLE_ENCODING, read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.storage.ticks import Ticks

LOT_ENDING = ".lot"


def read_given_boards(
    paths: Iterable[Path], units: str = "mm"
) -> tuple[tuple[Board, ...], dict[str, Path]]:
    """Return the boards in the order given, and for each id the folder of its pictures.

    A lot gives all its boards as they are now, with what was said of them on the page; its file
    is only read.

    Raises
    ------
    FileError, BoardError, LotError
        A file cannot be read, a lot holds no board, or two boards have one id.
    """
    boards: list[Board] = []
    folders: dict[str, Path] = {}
    ids: dict[str, str] = {}
    for path in paths:
        found, folder = _boards_in(path, units)
        for board in found:
            former = ids.setdefault(file_key(board.id), board.id)
            if board.id in folders:
                raise BoardError(f"two boards are called {board.id}", "give each board its own id")
            if former != board.id:
                raise BoardError(
                    f"two boards are called {former} and {board.id}, which on many systems name"
                    " the same files",
                    "give each board an id that differs by more than capitals",
                )
            boards.append(board)
            folders[board.id] = folder
    return tuple(boards), folders


def boards_and_parts(paths: Iterable[Path]) -> tuple[tuple[Path, ...], Path]:
    """Return which files hold boards, in the order given, and the one that is a parts list.

    What a file is, its content says: the order in which they were given does not.

    Raises
    ------
    FileError, PlacementError
        A file cannot be read, there is no parts list among them, more than one, or no board.
    """
    boards: list[Path] = []
    parts: list[Path] = []
    for path in paths:
        (parts if _is_parts_list(path) else boards).append(path)
    if len(parts) != 1:
        named = " and ".join(map(str, parts))
        what = f"{named} are both parts lists" if parts else "no parts list is among the files"
        raise PlacementError(what, "give the one that the layout was made from, and the boards")
    if not boards:
        raise PlacementError(
            "no board is among the files", "give board.json, boards.csv or NAME.lot"
        )
    return tuple(boards), parts[0]


def _is_parts_list(path: Path) -> bool:
    if is_lot(path):
        return False
    text = read_text(path, fallback_encoding=TABLE_ENCODING).lstrip()
    if path.suffix.lower() == ".json" or text.startswith("{"):
        with contextlib.suppress(ValueError, RecursionError):
            record = json.loads(text)
            # A parts list may be the bare list of its parts.
            is_named = isinstance(record, dict) and record.get("format") == "parts"
            return is_named or isinstance(record, list)
        return False
    # A spreadsheet's own line "sep=;" may stand above the header.
    header = " ".join(text.lower().splitlines()[:3])
    return "quantity" in header and "faces" in header


def has_bare_figures(path: Path) -> bool:
    """Whether a parts list or a list of boards means another size with ``--units inch``.

    A file that cannot be read, or only once (a pipe), may have such figures.
    """
    if not path.is_file():
        return True
    if is_lot(path):
        return False
    try:
        if _is_parts_list(path):
            return read_parts(path, "mm") != read_parts(path, "inch")
        is_board = path.suffix.lower() == ".json"
        return not is_board and _boards_in(path, "mm") != _boards_in(path, "inch")
    except ScannerError:
        return True


def refuse_begun_lots(paths: Iterable[Path]) -> None:
    """Refuse lots of which parts are cut already: a new layout would lay others over them.

    Raises
    ------
    PlacementError
        A part of a lot is cut or was spoiled.
    """
    for path, ticks in begun_lots(paths):
        if ticks.spoiled or ticks.cut:
            raise PlacementError(
                f"parts of {path.name} are cut already, and a new layout would lay others there",
                "do it on the page, which knows what is cut",
            )


def begun_lots(paths: Iterable[Path]) -> Iterator[tuple[Path, Ticks]]:
    """Yield each lot with what became of its parts in the shop."""
    # Most commands are given board.json files and need not load the storage.
    from scanner.storage.lots import look_into_lot

    for path in paths:
        if is_lot(path):
            with look_into_lot(path) as lot:
                yield path, lot.ticks()


def is_lot(path: Path) -> bool:
    """Return whether a file is named as a lot is."""
    return path.suffix.lower() == LOT_ENDING


def _boards_in(path: Path, units: str) -> tuple[tuple[Board, ...], Path]:
    """Return the boards of a file, and the folder of their pictures."""
    if is_lot(path):
        return _boards_of_lot(path)
    if path.suffix.lower() == ".csv":
        return tuple(read_boards_list(path, units)), path.parent
    if path.suffix.lower() == ".json":
        return (read_board(path),), path.parent
    # A pipe, or a table saved under another ending: read once, its content says what it is.
    text = read_text(path, fallback_encoding=TABLE_ENCODING)
    if text.lstrip().startswith("{"):
        return (board_from_text(text, str(path)),), path.parent
    return boards_of_text(text, str(path), units), path.parent


def _boards_of_lot(path: Path) -> tuple[tuple[Board, ...], Path]:
    # Most commands are given board.json files and need not load the storage.
    from scanner.storage.lots import look_into_lot

    with look_into_lot(path) as lot:
        boards, folder = lot.boards(), lot.folder
    if not boards:
        raise LotError(f"{path.name} holds no board yet", "add boards on the page")
    return boards, folder
