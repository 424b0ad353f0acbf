"""What every later photo of a board goes through: limits, a stored copy, plain words, a note.

A later photo shows marks, a piece, an end or an edge of a board that is in the lot already. It is
kept like a board's own photos: by its hash, its position blanked, its name never a path.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol, TypeVar

from scanner.app.lot.open_lot import new_stamp
from scanner.errors import ScannerError
from scanner.storage.values import DocumentError, from_document

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from PIL import Image

    from scanner.app.scanning.scan_request import TypedOptions
    from scanner.storage.lots import Lot
    from scanner.storage.photos import StoredPicture
    from scanner.storage.values import Json

    Progress = Callable[[str, float], None]

# The commands' options by the names of the page's fields; longer ones first.
_FIELDS = {
    "--rule-corners": "corners of the rule",
    "--corners": "corners",
    "--strip-taped": "strip as taped",
    "--thickness": "thickness",
    "--rule": "size of the rule",
    "--leg": "width of the leg",
}
_JPEG_QUALITY = 85
Kept = TypeVar("Kept")


class Photo(Protocol):
    """A photo as it came in: the user's name for it, and its bytes."""

    @property
    def name(self) -> str:
        """The user's name for it."""

    @property
    def content(self) -> bytes:
        """Its bytes."""


def keep_photo(lot: Lot, photo: Photo) -> StoredPicture:
    """Keep a photo that came in, within the page's limits.

    Raises
    ------
    PhotoError
        It holds nothing, or more than the page takes.
    """
    from scanner.app.lot.add_board import UploadedPhoto, refuse_empty_or_huge

    refuse_empty_or_huge(UploadedPhoto(photo.name, photo.content))
    return lot.keep_picture(photo.content, photo.name)


def typed_options(rule: str, strip_taped: str, batten: str, thickness: str = "") -> TypedOptions:
    """Return what was typed beside a later photo, "" where nothing was."""
    # Loads the readers of every option, which a page that only shows what was seen does not need.
    from scanner.app.scanning.scan_request import TypedOptions

    return TypedOptions(
        thickness=thickness.strip() or TypedOptions().thickness,
        rule=rule.strip() or None,
        strip_taped=strip_taped.strip() or None,
        batten=batten.strip() or None,
    )


@contextmanager
def in_plain_words(stored: StoredPicture | None = None) -> Iterator[None]:
    """Speak of fields and of the photo by the names the user knows."""
    from scanner.app.lot.page_words import renamed

    names = dict(_FIELDS)
    if stored is not None:
        names[stored.file] = stored.name
    try:
        yield
    except ScannerError as problem:
        raise renamed(problem, names) from problem


def keep_made(lot: Lot, picture: Image.Image, name: str) -> str:
    """Keep a picture that was made of a photo; return what it is stored under."""
    import io

    out = io.BytesIO()
    picture.convert("RGB").save(out, "JPEG", quality=_JPEG_QUALITY)
    return lot.keep_picture(out.getvalue(), f"{name}.jpg").file


def note(lot: Lot, name: str, document: Json, said: str) -> None:
    """Note what was seen beside the layout; None takes the note away."""
    lot.set_note(name, document, new_stamp(lot), said)


def kept_note(lot: Lot, name: str, kind: type[Kept]) -> Kept | None:
    """Return what was noted under a name, None where nothing was, or an older program's note."""
    document = lot.note(name)
    try:
        return None if document is None else from_document(kind, document)
    except DocumentError:
        return None


def board_names(lot: Lot) -> tuple[str, ...]:
    """Return the names of the lot's boards."""
    return tuple(line.id for line in lot.standings())


def picture_at(lot: Lot, file: str) -> Path | None:
    """Return where a kept picture lies, None where it is gone."""
    return lot.picture(file)
