"""The errand "more photos of a board": scanned anew with them, and all that was said is kept."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from scanner.app.lot.add_board import refuse_empty_or_huge, scan_kept
from scanner.app.lot.open_lot import new_stamp
from scanner.app.lot.page_words import read_typed
from scanner.app.lot.trust_test import PHONES
from scanner.board.carry_over import Moves, carry_over, was_spoken_of
from scanner.errors import BoardError, PhotoError
from scanner.files.picture_file import open_picture
from scanner.storage.lots import Action, with_stored_pictures

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from scanner.app.lot.add_board import UploadedPhoto
    from scanner.app.scanning.scan_request import TypedOptions
    from scanner.board.board import Board
    from scanner.board.carry_over import Points
    from scanner.storage.lots import Lot
    from scanner.storage.photos import StoredPicture
    from scanner.vision.photos.picture import FacePicture

    Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class MorePhotos:
    """New photos of one face.

    Attributes
    ----------
    photos
        From above, each from another side.
    instead
        They take the place of the face's earlier photos; else they come on top.
    raking
        One more under a low lamp.
    """

    photos: tuple[UploadedPhoto, ...] = ()
    instead: bool = False
    raking: UploadedPhoto | None = None


def scan_again(
    lot: Lot,
    board_id: str,
    more: Mapping[int, MorePhotos],
    typed: TypedOptions,
    progress: Progress = lambda step, share: None,
) -> tuple[str, ...]:
    """Scan a board of the lot again with further photos; return in words what became of it.

    What was said of its flaws, faces and ends stays: it is moved by the grain that both scans show,
    onto the board as it stands when the scan is done. A scan that fails changes nothing, and undo
    brings the earlier scan back. Thickness, species and warp are the board's own.

    Raises
    ------
    ScannerError
        A photo cannot be used, shows another board, or the board has parts that are cut or locked.
    """
    old = lot.board(board_id)
    _refuse_cut(lot, board_id)
    given = [one for several in more.values() for one in (*several.photos, several.raking) if one]
    if not given:
        raise PhotoError("there is no new photo", "choose or take one, then scan")
    for photo in given:
        refuse_empty_or_huge(photo)
    stored, raking = _kept_photos(lot, old, more)
    paths = {face: tuple(lot.folder / one.file for one in kept) for face, kept in stored.items()}
    seconds = paths.get(2, ())
    request = read_typed(board_id, paths[1][0], seconds[0] if seconds else None, typed)
    warp = old.warp
    request = replace(
        request,
        photos_1=paths[1],
        photos_2=seconds,
        thickness=old.thickness,
        species=old.species,
        warp=warp,
        # Scans once wrote 0 for a bow that nobody measured.
        bow_known=warp is not None and bool(warp.bow_mm),
        raking={face: lot.folder / one.file for face, one in raking.items()},
        profile=request.profile or lot.folder / PHONES,
    )
    with tempfile.TemporaryDirectory(prefix="bothfaces-") as folder:
        every = {face: (*kept, *_of(raking, face)) for face, kept in stored.items()}
        new = scan_kept(request, Path(folder), progress, every)
        progress("laying the old scan over the new one", 0.97)
        moves = _moves(lot, old, new, Path(folder))
        pictures = {
            number: lot.keep_picture(path.read_bytes(), path.name)
            for number, face in new.faces.items()
            if face.picture and (path := Path(folder) / Path(face.picture).name).is_file()
        }
    new = with_stored_pictures(new, pictures)
    said: tuple[str, ...] = ()

    def changed(now: Board) -> Board:
        # On the newest state: whatever was tapped while the scan went on counts too.
        nonlocal said
        _refuse_cut(lot, board_id)
        carried = carry_over(now, new, moves)
        said = carried.said
        return carried.board

    words = f"{board_id}: scanned again with {len(given)} more"
    lot.record(Action(new_stamp(lot, "page"), board_id, words, changed))
    lot.set_photos(board_id, stored)
    progress("done", 1.0)
    return said


def _refuse_cut(lot: Lot, board_id: str) -> None:
    if any(tick.board == board_id for tick in lot.ticks().staying):
        raise BoardError(
            f"{board_id} has parts that are cut or locked, and a new scan moves their places",
            "unlock them first; a board that is cut stays as it was scanned",
        )


def _of(raking: Mapping[int, StoredPicture], face: int) -> tuple[StoredPicture, ...]:
    return (raking[face],) if face in raking else ()


def _kept_photos(
    lot: Lot, old: Board, more: Mapping[int, MorePhotos]
) -> tuple[dict[int, tuple[StoredPicture, ...]], dict[int, StoredPicture]]:
    """Return the photos to scan by face, the earlier ones first, and those under a low lamp."""
    kept = lot.photos(old.id)
    stored: dict[int, tuple[StoredPicture, ...]] = {}
    raking: dict[int, StoredPicture] = {}
    for face in (1, 2):
        new = more.get(face, MorePhotos())
        before = () if new.instead and new.photos else kept.get(face, ())
        # The same photo given twice counts once.
        fresh = tuple(lot.keep_picture(photo.content, photo.name) for photo in new.photos)
        files = {one.file for one in before}
        photos = (*before, *(one for one in fresh if one.file not in files))
        had_picture = face in old.faces and old.faces[face].picture is not None
        if not photos and (face == 1 or had_picture or new.raking):
            raise PhotoError(
                f"the earlier photos of face {face} are not kept with this lot",
                f"give photos of face {face} too",
            )
        if photos:
            stored[face] = photos
        if new.raking is not None:
            raking[face] = lot.keep_picture(new.raking.content, new.raking.name)
    return stored, raking


def _moves(lot: Lot, old: Board, new: Board, folder: Path) -> Moves:
    """Return how places of the old scan move to the new one, by the grain that both show.

    Raises
    ------
    PhotoError
        The two share no grain, and there is something said that would have to be moved.
    """
    from scanner.vision.low_lamp.raking import lay_over

    found: dict[int, Callable[[Points], Points]] = {}
    apart = 0.0
    for number in (1, 2):
        here, there = old.faces.get(number), new.faces.get(number)
        if here is None or there is None:
            continue
        before = _picture(here.picture and lot.picture(here.picture), old, number)
        after = _picture(there.picture and folder / Path(there.picture).name, new, number)
        if before is None or after is None:
            continue
        try:
            laid = lay_over(before, here.outline, after, there.outline, f"face {number}")
        except PhotoError:
            continue
        found[number] = laid.places_in_second
        apart = max(apart, laid.apart_mm)
    if found:
        return Moves(found, apart)
    if was_spoken_of(old):
        raise PhotoError(
            f"the new scan of {old.id} and the earlier one share too little grain, so that what "
            "you said of it cannot be moved over",
            "look whether the photos show this board and its faces 1 and 2 as before; nothing was "
            "changed",
        )
    return Moves({1: _as_it_lies})


def _as_it_lies(places: Points) -> Points:
    return places


def _picture(path: Path | str | None, board: Board, number: int) -> FacePicture | None:
    from scanner.vision.photos.picture import FacePicture

    face = board.faces[number]
    if not path or face.mm_per_px is None or face.picture_origin is None:
        return None
    file = Path(path)
    if not file.is_file():
        return None
    pixels: NDArray[np.uint8] = np.array(open_picture(file), dtype=np.uint8)
    seen = np.ones(pixels.shape[:2], dtype=np.bool_)
    return FacePicture(
        pixels, face.mm_per_px, face.picture_origin, face.u_scale, board.outline_u_mm, seen
    )
