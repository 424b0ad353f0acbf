"""The errand "add a board": uploaded photos go into the lot, are scanned, and become a board."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.app.lot.open_lot import take_board
from scanner.app.lot.page_words import named, read_typed, renamed
from scanner.app.lot.trust_test import PHONES
from scanner.app.scanning.scan_board import scan_board
from scanner.errors import PhotoError, ScannerError
from scanner.files.board_rows import file_key

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from scanner.app.scanning.scan_request import ScanRequest, TypedOptions
    from scanner.board.board import Board
    from scanner.storage.lots import Lot
    from scanner.storage.photos import StoredPicture

    Progress = Callable[[str, float], None]

# A phone's largest pictures are about 25 MB; more is refused before it is read.
MOST_PHOTO_BYTES = 60_000_000


@dataclass(frozen=True, slots=True)
class UploadedPhoto:
    """A photo as it came in: the user's name for it, and its bytes."""

    name: str
    content: bytes


def add_board(
    lot: Lot,
    face_1: UploadedPhoto,
    face_2: UploadedPhoto | None,
    typed: TypedOptions,
    progress: Progress = lambda step, share: None,
    *,
    more_1: tuple[UploadedPhoto, ...] = (),
    more_2: tuple[UploadedPhoto, ...] = (),
) -> Board:
    """Scan a board from photos and add it to the lot.

    The photos are kept first, so that a scan that fails loses nothing. ``more_1`` and ``more_2``
    are further photos of a face, from another side of the board.

    Raises
    ------
    ScannerError
        What was typed or photographed cannot be used; the lot has no new board.
    """
    photos = {1: (face_1, *more_1)} | ({2: (face_2, *more_2)} if face_2 else {})
    for photo in (one for several in photos.values() for one in several):
        refuse_empty_or_huge(photo)
    board_id = free_board_id(lot)
    # Read once before anything is kept: a typing error costs no upload.
    read_typed(board_id, Path("face-1"), Path("face-2") if face_2 else None, typed)
    progress("keeping the photos", 0.0)
    stored = {
        face: tuple(lot.keep_picture(photo.content, photo.name) for photo in several)
        for face, several in photos.items()
    }
    paths = {
        face: tuple(lot.folder / picture.file for picture in several)
        for face, several in stored.items()
    }
    seconds = paths.get(2, ())
    request = read_typed(board_id, paths[1][0], seconds[0] if seconds else None, typed)
    # A board card names the board, unless the lot has one of that name.
    request = replace(request, photos_1=paths[1], photos_2=seconds, is_named=False)
    if request.profile is None:
        # Every board of the lot improves what is known of the phones that it was shot with.
        request = replace(request, profile=lot.folder / PHONES)
    with tempfile.TemporaryDirectory(prefix="bothfaces-") as folder:
        board = scan_kept(request, Path(folder), progress, stored)
        if file_key(board.id) in _taken_ids(lot):
            board = replace(board, id=board_id)
        board = take_board(lot, board, Path(folder), stored)
    progress("done", 1.0)
    return board


def free_board_id(lot: Lot) -> str:
    """Return the next free name B01, B02, ..."""
    taken = _taken_ids(lot)
    number = 1
    while file_key(f"B{number:02d}") in taken:
        number += 1
    return f"B{number:02d}"


def _taken_ids(lot: Lot) -> set[str]:
    return {file_key(board.id) for board in lot.boards()}


def scan_kept(
    request: ScanRequest,
    folder: Path,
    progress: Progress,
    stored: Mapping[int, tuple[StoredPicture, ...]],
) -> Board:
    """Scan, and speak of the photos by the names the user knows."""
    names = {picture.file: picture.name for several in stored.values() for picture in several}
    try:
        board = scan_board(request, folder, progress).board
    except ScannerError as problem:
        raise renamed(problem, names) from problem
    return replace(
        board,
        faces={
            number: replace(
                face, photos=tuple(names.get(Path(photo).name, photo) for photo in face.photos)
            )
            for number, face in board.faces.items()
        },
        notes=tuple(named(note, names) for note in board.notes),
    )


def refuse_empty_or_huge(photo: UploadedPhoto) -> None:
    """Refuse a photo before it is kept or read.

    Raises
    ------
    PhotoError
        It holds nothing, or more than the page takes.
    """
    if not photo.content:
        raise PhotoError(f"{photo.name} is empty", "take or choose the photo again")
    if len(photo.content) > MOST_PHOTO_BYTES:
        megabytes = len(photo.content) / 1e6
        raise PhotoError(
            f"{photo.name} is {megabytes:.0f} MB, more than the page takes",
            f"choose a photo under {MOST_PHOTO_BYTES / 1e6:.0f} MB",
        )
