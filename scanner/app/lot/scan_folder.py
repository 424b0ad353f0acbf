"""The errand "scan all": a folder of photos in, a board for every two faces that belong together.

Board cards settle which photos are one board's. Without cards a face goes to the face that lies
over it best, by outline and knots, and of two that fit alike to the one that it follows. What stays
doubtful is named and left to the user.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from scanner.app.lot.add_boards import Order, pairs
from scanner.app.many import work_through
from scanner.app.scanning.face_shelf import FaceShelf
from scanner.app.scanning.same_photo import copies_among
from scanner.app.scanning.save_board import save_board
from scanner.app.scanning.scan_board import ScanResult, scan_photos, setup_of
from scanner.app.scanning.scan_request import ScanRequest, TypedOptions, scan_request
from scanner.app.scanning.two_boards import keep_why
from scanner.board.pairing import lies_over, pairs_by_outline
from scanner.errors import BoardError, PhotoError, ScannerError, SettingsError
from scanner.files.camera_profiles import read_profiles, with_scan, write_profiles
from scanner.files.write import refuse_unwritable

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from scanner.vision.evidence.lens_evidence import LensEvidence
    from scanner.vision.photos.picture import FaceScan
    from scanner.vision.setup import Setup

    Progress = Callable[[str, float], None]

Card = tuple[int, int]
_PHOTO_SUFFIXES = {".jpg", ".jpeg", ".png", ".heic", ".heif"}
# Looking for cards is a twentieth of the work.
_CARDS_SHARE = 0.05
_PAIRED_BY_OUTLINE = (
    "face 2 was found for face 1 by its outline alone: look whether both show one board"
)


@dataclass(frozen=True, slots=True)
class FolderScan:
    """What became of a folder: the boards, and a sentence for every photo that is in none."""

    boards: tuple[ScanResult, ...]
    left: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Face:
    """The photos of one face, and what their board card says."""

    photos: tuple[Path, ...]
    card: Card | None


def scan_folder(
    folder: Path,
    output: Path,
    typed: TypedOptions,
    *,
    order: Order = "in_turn",
    photos_a_face: int = 1,
    scheduler: str | None = None,
    cores: int | None = None,
    progress: Progress = lambda step, share: None,
) -> FolderScan:
    """Scan every photo of a folder and write one folder a board (``B01``, ``B02`` ...).

    Parameters
    ----------
    typed
        What holds for all boards: thickness, species, rule, strip.
    order
        How photos without a board card follow each other, by name; see ``add_boards.pairs``.
    photos_a_face
        How many photos without a board card show one face, one after the other.
    scheduler, cores
        Where to work; see ``many.work_through``. The boards do not depend on it.

    Raises
    ------
    SettingsError
        An option that belongs to one board was given.
    PhotoError
        There is no photo in the folder.
    FileError
        The output folder cannot be written into.
    """
    _refuse_single(typed)
    photos, copies = _photos_in(folder)
    request = scan_request("B00", photos[0], None, typed)
    refuse_unwritable(output)
    profiles = read_profiles(request.profile) if request.profile is not None else ()
    lenses = tuple(profile.lens for profile in profiles)
    cards: list[Card | str | None] = []
    for card in work_through(_card_of, photos, scheduler=scheduler, cores=cores):
        cards.append(card)
        progress("looking for board cards", _CARDS_SHARE * len(cards) / len(photos))
    faces, left = _faces(photos, cards, order, photos_a_face)
    left += copies
    setup = setup_of(request, 1, lenses)
    jobs = [(face.photos, setup) for face in faces]
    with FaceShelf() as shelf:
        desk = _Desk(request, output, shelf, _free_names(faces), left)
        found = work_through(_scanned, jobs, scheduler=scheduler, cores=cores)
        for place, (face, scan) in enumerate(zip(faces, found, strict=True)):
            if isinstance(scan, str):
                left.append(scan)
            else:
                # What the peek read counts: a card may be seen in one of several photos only.
                desk.arrived(place, replace(scan, card=face.card))
            share = _CARDS_SHARE + (1 - _CARDS_SHARE) * (place + 1) / len(faces)
            progress(f"face {place + 1} of {len(faces)}", share)
        desk.pair_the_rest()
        left += [_alone(waiting.photos) for waiting in shelf.faces.values()]
    if request.profile is not None:
        for result, learned in zip(desk.boards, desk.lenses, strict=True):
            profiles = with_scan(profiles, learned, result.board.id)
        write_profiles(request.profile, profiles)
    progress("done", 1.0)
    return FolderScan(tuple(desk.boards), tuple(left))


@dataclass
class _Desk:
    """Where faces meet: writes a board as soon as both of its faces are there."""

    request: ScanRequest
    output: Path
    shelf: FaceShelf
    free_names: list[str]
    left: list[str]
    boards: list[ScanResult] = field(default_factory=list)
    lenses: list[tuple[LensEvidence, ...]] = field(default_factory=list)

    def arrived(self, place: int, scan: FaceScan) -> None:
        """Pair a face with the one that waits for it, or let it wait."""
        partner = self._partner(place, scan)
        if partner is None:
            self.shelf.put(place, scan)
        else:
            self._write(self.shelf.take(partner), scan)

    def _partner(self, place: int, scan: FaceScan) -> int | None:
        for other in self.shelf.faces.values():
            if scan.card and other.card == (scan.card[0], 3 - scan.card[1]):
                return other.place
        before = self.shelf.faces.get(place - 1)
        if scan.card or before is None or before.card or not _follow(before.place, place):
            return None
        # Knots that come through prove it at once; the rest waits until all faces are there.
        fits_mm = lies_over(before.reading, scan.reading, self.request.thickness.value_mm)
        return before.place if fits_mm is not None and fits_mm < 0 else None

    def pair_the_rest(self) -> None:
        """Pair what is left where two faces are clearly each other's best."""
        waiting = [self.shelf.faces[place] for place in sorted(self.shelf.faces)]

        def may_pair(i: int, j: int) -> bool:
            return waiting[i].card is None or waiting[j].card is None

        def follow(i: int, j: int) -> bool:
            bare = waiting[i].card is None and waiting[j].card is None
            return bare and _follow(waiting[i].place, waiting[j].place)

        readings = [face.reading for face in waiting]
        thickness = self.request.thickness.value_mm
        for i, j in pairs_by_outline(readings, thickness, may_pair, follow):
            one, two = self.shelf.take(waiting[i].place), self.shelf.take(waiting[j].place)
            self._write(one, two, () if follow(i, j) else (_PAIRED_BY_OUTLINE,))

    def _write(self, one: FaceScan, two: FaceScan, notes: tuple[str, ...] = ()) -> None:
        if (one.card and one.card[1] == 2) or (two.card and two.card[1] == 1):
            one, two = two, one
        card = one.card or two.card
        name = f"B{card[0]:02d}" if card else self.free_names.pop(0)
        request = replace(self.request, id=name)
        try:
            board = save_board(request, {1: one, 2: two}, self.output / name, notes)
        except BoardError as problem:
            self.left.append(str(keep_why(problem, self.output / name, name)))
            return
        self.boards.append(ScanResult(board, self.output / name, board.notes))
        self.lenses.append(tuple(scan.lens for scan in (one, two) if scan.lens is not None))


def _follow(place: int, next_place: int) -> bool:
    """Whether a face was photographed right after another."""
    return next_place == place + 1


def _refuse_single(typed: TypedOptions) -> None:
    """Refuse what can only be true of one board."""
    exact_bow = typed.bow is not None and not typed.bow.strip().startswith("<")
    single = {
        "--taped": typed.taped,
        "--corners1": typed.corners_1,
        "--corners2": typed.corners_2,
        "--bow": typed.bow if exact_bow else None,
        "--cup": typed.cup,
        "--twist": typed.twist,
        "--more1": typed.more_1,
        "--more2": typed.more_2,
        "--raking1": typed.raking_1,
        "--raking2": typed.raking_2,
    }
    for option, given in single.items():
        if given:
            raise SettingsError(
                f"{option} belongs to one board and cannot go with --all",
                "scan that board alone, or leave it out",
            )


def _photos_in(folder: Path) -> tuple[list[Path], list[str]]:
    """Return the photos by number, and what is said of copies that lie beside their own.

    Such a copy would pass for the other face and shift every pair after it.
    """
    if not folder.is_dir():
        raise PhotoError(f"{folder} is not a folder", "give --all the folder with the photos")
    photos = [
        path
        for path in folder.iterdir()
        if path.suffix.lower() in _PHOTO_SUFFIXES and not path.name.startswith(".")
    ]
    if not photos:
        raise PhotoError(
            f"{folder} holds no photo", "put JPEG, HEIC or PNG pictures of both faces there"
        )
    photos.sort(key=_by_number)
    # Of two the shorter name is the photo's own: "1.jpg", and not "1 (1).jpg".
    first = copies_among(sorted(photos, key=lambda photo: len(photo.name)))
    copies = {
        one if one in first else other: first.get(one, one)
        for one, other in pairwise(photos)
        if first.get(one, one) == first.get(other, other)
    }
    said = [f"{one.name} is a copy of {of.name} and was left out." for one, of in copies.items()]
    return [photo for photo in photos if photo not in copies], said


def _by_number(path: Path) -> tuple[tuple[int, int | str], ...]:
    """Sort IMG_9 before IMG_10, as phones count."""
    pieces = re.split(r"(\d+)", path.name.lower())
    return tuple((0, int(piece)) if piece.isdigit() else (1, piece) for piece in pieces)


def _card_of(photo: Path) -> Card | str | None:
    """Return the board and face on a photo's board card, None without one, or what is wrong."""
    from scanner.vision.photos.photo import read_photo
    from scanner.vision.rule.cards import find_cards

    try:
        cards = find_cards(read_photo(photo))
    except ScannerError as problem:
        return str(problem)
    return (cards[0].board, cards[0].face) if len(cards) == 1 else None


def _scanned(job: tuple[tuple[Path, ...], Setup]) -> FaceScan | str:
    """Return one face as scanned, or the sentence that says why not."""
    try:
        return scan_photos(*job)
    except ScannerError as problem:
        return str(problem)


def _faces(
    photos: Sequence[Path], cards: Sequence[Card | str | None], order: Order, photos_a_face: int
) -> tuple[list[_Face], list[str]]:
    """Return the faces, those with a board card first, and a sentence for each bad photo."""
    left = [card for card in cards if isinstance(card, str)]
    with_card: dict[Card, list[Path]] = {}
    without: list[Path] = []
    for photo, card in zip(photos, cards, strict=True):
        if isinstance(card, tuple):
            with_card.setdefault(card, []).append(photo)
        elif card is None:
            without.append(photo)
    runs = [tuple(without[at : at + photos_a_face]) for at in range(0, len(without), photos_a_face)]
    in_turn = [face for both in pairs(runs, order) for face in both]
    faces = [_Face(tuple(shots), card) for card, shots in with_card.items()]
    faces += [_Face(run, None) for run in in_turn]
    return faces, left


def _free_names(faces: Sequence[_Face]) -> list[str]:
    """Return names for boards without a card, in order, none that a card has taken."""
    taken = {face.card[0] for face in faces if face.card}
    return [f"B{n:02d}" for n in range(1, len(faces) + len(taken) + 1) if n not in taken]


def _alone(photos: tuple[str, ...]) -> str:
    names = " and ".join(photos)
    return (
        f"{names}: no other photo is clearly this board's other face;"
        " scan it alone, or photograph the other face with a board card"
    )
