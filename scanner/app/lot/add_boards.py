"""The errand "add several boards": photos in pairs, one board after the other."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeVar

from PIL import Image, ImageDraw, ImageOps

from scanner.errors import ScannerError
from scanner.vision.photos.heic import is_heic, read_heic

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from scanner.app.lot.add_board import UploadedPhoto
    from scanner.app.scanning.scan_request import TypedOptions
    from scanner.storage.lots import Lot

    Progress = Callable[[str, float], None]

Order = Literal["in_turn", "faces_1_first", "twice"]
Photo = TypeVar("Photo")
_THUMBNAIL_PX = (320, 320)
# Looked at eight times closer, an edge is still seen in it.
_TO_TAP_PX = (2000, 2000)
# The rule found is drawn light on dark, so that it shows on any wood and floor.
_RULE_CASING, _RULE_LINE = ((16, 69, 111), 5), ((255, 255, 255), 2)
# As many as a scan measures on.
_MOST_PIXELS = 120_000_000
# EXIF 2.32, tag 274: values above 4 lie on their side.
_ORIENTATION = 274


@dataclass(frozen=True, slots=True)
class BoardPhotos:
    """The photos of one board by face, and the rule's corners where they were tapped.

    ``face_2`` is empty where that face was not photographed. More than one photo of a face: each
    from another side of the board. Corners are those in the face's first photo, as text.
    """

    face_1: tuple[UploadedPhoto, ...]
    face_2: tuple[UploadedPhoto, ...] = ()
    corners_1: str | None = None
    corners_2: str | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a pair: the board's id, or the problem in a sentence.

    ``picture`` is a JPEG that shows why, where there is one.
    """

    names: tuple[str, ...]
    board: str | None
    problem: str | None
    picture: bytes | None = None


def pairs(photos: Sequence[Photo], order: Order) -> tuple[tuple[Photo, ...], ...]:
    """Return photos as (face 1, face 2) of one board each, (face 1,) where one is left over.

    Parameters
    ----------
    order
        ``in_turn``: both faces of a board follow each other; ``faces_1_first``: all boards' faces
        1, then the stack turned over and all faces 2 in the same order; ``twice``: as ``in_turn``,
        of photos that are the first of two of a face.
    """
    if order in ("in_turn", "twice"):
        return tuple(tuple(photos[at : at + 2]) for at in range(0, len(photos), 2))
    count = (len(photos) + 1) // 2
    return tuple(tuple(photos[at::count][:2]) for at in range(count))


def add_boards(
    lot: Lot,
    boards: Sequence[BoardPhotos],
    typed: TypedOptions,
    progress: Progress = lambda step, share: None,
) -> tuple[Outcome, ...]:
    """Scan boards one after the other; one that cannot be scanned does not stop the rest."""
    # Only now: this loads what scanning needs, and the page asks for pairs first.
    from scanner.app.lot.add_board import add_board

    outcomes = []
    for number, photos in enumerate(boards):
        where = f"board {number + 1} of {len(boards)}, " if len(boards) > 1 else ""

        def tell(step: str, share: float, number: int = number, where: str = where) -> None:
            progress(where + step, (number + share) / len(boards))

        names = tuple(photo.name for photo in (*photos.face_1, *photos.face_2))
        first, second = photos.face_1[0], photos.face_2[0] if photos.face_2 else None
        own = replace(typed, corners_1=photos.corners_1, corners_2=photos.corners_2)
        more = {"more_1": photos.face_1[1:], "more_2": photos.face_2[1:]}
        try:
            board = add_board(lot, first, second, own, tell, **more)
        except ScannerError as problem:
            outcomes.append(Outcome(names, None, str(problem), problem.picture))
        else:
            outcomes.append(Outcome(names, board.id, None))
    return tuple(outcomes)


def thumbnail(photo: bytes, rule_px: Sequence[tuple[float, float]] = ()) -> bytes | None:
    """Return a small upright JPEG of a photo, None where it cannot be shown here.

    Parameters
    ----------
    rule_px
        Corners of the rule found in it, in its own upright px, to be drawn round it.
    """
    found = _smaller(photo, _THUMBNAIL_PX, rule_px)
    return None if found is None else found[0]


def upright_copy(photo: bytes) -> tuple[bytes, tuple[int, int]] | None:
    """Return a smaller upright JPEG of a photo to tap on, and the photo's own upright size, px.

    None where it cannot be shown here.
    """
    return _smaller(photo, _TO_TAP_PX)


def _look_at_size(width: int, height: int) -> None:
    if width * height > _MOST_PIXELS:
        raise ValueError("too large to be shown")


def _smaller(
    photo: bytes, most_px: tuple[int, int], rule_px: Sequence[tuple[float, float]] = ()
) -> tuple[bytes, tuple[int, int]] | None:
    try:
        if is_heic(photo):
            # Upright already: its own box turns it.
            upright = read_heic(photo, _look_at_size).convert("RGB")
            (width, height), lies = upright.size, False
        else:
            with Image.open(io.BytesIO(photo)) as picture:
                width, height = picture.size
                lies = picture.getexif().get(_ORIENTATION, 1) > 4
                # A JPEG is decoded at an eighth of its size where that is enough.
                picture.draft("RGB", most_px)
                upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (OSError, ValueError, Image.DecompressionBombError):
        return None
    upright.thumbnail(most_px)
    size = (height, width) if lies else (width, height)
    if rule_px:
        corners = [(x * upright.width / size[0], y * upright.height / size[1]) for x, y in rule_px]
        for colour, line in (_RULE_CASING, _RULE_LINE):
            ImageDraw.Draw(upright).line([*corners, corners[0]], colour, line, "curve")
    small = io.BytesIO()
    upright.save(small, "JPEG", quality=80)
    return small.getvalue(), size
