"""The errand "open a lot": begin one, open one, fill it from scan results, set its parts list."""

from __future__ import annotations

import secrets
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.app.lot.part_drawings import drawings_beside, with_drawings
from scanner.errors import LotError
from scanner.files.board_file import read_board
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts_text
from scanner.files.rows import read_text
from scanner.storage.journal import Answer, Stamp
from scanner.storage.lots import Lot, PartsText, with_stored_pictures
from scanner.storage.lots import open_lot as open_lot  # the page's way to storage

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.app.lot.part_drawings import Drawing
    from scanner.board.board import Board
    from scanner.placement.parts import PartsList
    from scanner.storage.parts_kept import Drawings
    from scanner.storage.photos import StoredPicture

_SAMPLE_PARTS = "parts.csv"


def new_stamp(lot: Lot, client: str = "command") -> Stamp:
    """Return a fresh stamp on the newest revision, for what is not sent from a window."""
    return Stamp(f"{client}-{secrets.token_hex(12)}", lot.revision, client)


def fill_from_results(lot: Lot, results: Path) -> int:
    """Take the boards, parts list and layout of a results folder into the lot.

    Parameters
    ----------
    results
        Holds ``B*/board.json`` with the flat pictures beside it, and perhaps a parts list
        (``parts.csv``) and ``layout.json``.

    Returns
    -------
    int
        How many boards were taken.
    """
    files = sorted(results.glob("*/board.json"))
    for file in files:
        take_board(lot, read_board(file), file.parent, {})
    parts = results / _SAMPLE_PARTS
    if parts.is_file():
        set_parts(lot, read_text(parts), parts.name, drawings_beside(parts))
    layout = results / "layout.json"
    if files and layout.is_file():
        lot.save_layout(read_layout(layout), lot.revision)
    return len(files)


def set_parts(lot: Lot, text: str, name: str, drawings: Drawings | None = None) -> PartsList:
    """Read a parts list and keep it in the lot; an unreadable one is refused and not kept.

    Parameters
    ----------
    drawings
        Drawings of curved parts that come with the list; the lot keeps those it has too.
    """
    known = lot.drawings()
    every = {**known, **(drawings or {})}
    parts = with_drawings(read_parts_text(text, name, lot.shop().units), every, name)
    lot.set_parts_text(PartsText(name, text), new_stamp(lot), every if every != known else None)
    return parts


def give_sample_parts(lot: Lot, samples: Path) -> None:
    """Keep the parts list that comes with the sample set, unless the lot has one."""
    if lot.parts_text() is None:
        set_parts(lot, read_text(samples / _SAMPLE_PARTS), _SAMPLE_PARTS)


def parts_of(lot: Lot) -> PartsList:
    """Return the parts list of the lot; empty where none was given.

    A part whose drawing is not in the lot is laid as a rectangle.
    """
    kept = lot.parts_text()
    if kept is None:
        return ()
    return _read_parts(kept.text, kept.name, lot.shop().units, tuple(lot.drawings().items()))


@lru_cache(maxsize=16)
def _read_parts(text: str, name: str, units: str, drawings: tuple[Drawing, ...]) -> PartsList:
    # The page asks on every run.
    parts = read_parts_text(text, name, units)
    return with_drawings(parts, dict(drawings), name, is_whole=False)


def take_board(
    lot: Lot, board: Board, folder: Path, photos: Mapping[int, tuple[StoredPicture, ...]]
) -> Board:
    """Keep a scanned board with the flat pictures that lie in a folder; return it as kept."""
    stored = {}
    for number, face in board.faces.items():
        path = folder / Path(face.picture).name if face.picture else None
        if path is not None and path.is_file():
            stored[number] = lot.keep_picture(path.read_bytes(), path.name)
    board = with_stored_pictures(board, stored)
    lot.save_board(board, new_stamp(lot))
    if photos:
        lot.set_photos(board.id, photos)
    return board


def begin_lot(folder: Path, name: str) -> Path:
    """Return the path of a new lot of this name in a folder.

    Raises
    ------
    LotError
        The name has letters that a file name should not have, or is taken.
    """
    plain = " ".join(name.split())
    allowed = plain and all(letter.isalnum() or letter in " -_" for letter in plain)
    if not allowed or len(plain) > 60:
        raise LotError(
            f'"{name}" cannot name a lot', "use up to 60 letters, digits, spaces, - and _"
        )
    path = folder / f"{plain}.lot"
    if path.exists():
        raise LotError(f"there is a lot {plain} already", "open it, or choose another name")
    return path


__all__ = [
    "Answer",
    "Lot",
    "begin_lot",
    "fill_from_results",
    "give_sample_parts",
    "new_stamp",
    "open_lot",
    "parts_of",
    "set_parts",
    "take_board",
]
