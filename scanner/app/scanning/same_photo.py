"""Photos given twice: a copy of a photo is no second look, and no other face."""

from __future__ import annotations

import contextlib
import hashlib
from typing import TYPE_CHECKING

from scanner.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


def copies_among(photos: Iterable[Path]) -> dict[Path, Path]:
    """Return each photo that is a copy, byte for byte, of one before it, and which one.

    A photo that cannot be read is none: whoever opens it says so.
    """
    by_size: dict[int, list[Path]] = {}
    for photo in photos:
        with contextlib.suppress(OSError):
            by_size.setdefault(photo.stat().st_size, []).append(photo)
    found: dict[Path, Path] = {}
    # Photos of one size are rare, so that hardly any is read for this.
    for alike in by_size.values():
        first: dict[bytes, Path] = {}
        for photo in alike if len(alike) > 1 else ():
            with contextlib.suppress(OSError):
                before = first.setdefault(hashlib.sha256(photo.read_bytes()).digest(), photo)
                if before is not photo:
                    found[photo] = before
    return found


def refuse_copies(face_1: tuple[Path, ...], face_2: tuple[Path, ...]) -> None:
    """Refuse one photo given twice for one board.

    Raises
    ------
    PhotoError
        As both faces it would be a board whose faces are the same; as two photos of a face it
        would seem to tell what only another place can.
    """
    for copy, first in copies_among((*face_1, *face_2)).items():
        named = copy.name if copy.name == first.name else f"{first.name} and {copy.name}"
        what = "is given twice" if copy.name == first.name else "are one photo"
        across = first in face_1 and copy in face_2
        mend = "give the photo of the other face" if across else "leave one out"
        raise PhotoError(f"{named} {what}", mend)
