"""Photos as files in a folder beside the lot, named by the SHA-256 of their bytes."""

import hashlib
import os
import re
import tempfile
from dataclasses import dataclass
from pathlib import Path

from scanner.storage.position import blank_position

_SUFFIX = re.compile(r"\.[a-z0-9]{1,5}")
_STORED = re.compile(r"[0-9a-f]{64}(?:\.[a-z0-9]{1,5})?")


@dataclass(frozen=True, slots=True)
class StoredPicture:
    """A picture kept with the lot: file name in its folder, the user's name for it, size."""

    file: str
    name: str
    size: int

    @property
    def sha256(self) -> str:
        """The hash of the stored bytes."""
        return self.file[:64]


def photo_folder(lot: Path) -> Path:
    """Return the folder that belongs to a lot file (NAME.lot: NAME.lot-photos)."""
    return lot.with_name(f"{lot.name}-photos")


def keep_picture(folder: Path, picture: bytes, name: str) -> StoredPicture:
    """Write a picture without its position into the folder; its name is never used as a path."""
    stored = blank_position(picture)
    ending = Path(name).suffix.lower()
    suffix = ending if _SUFFIX.fullmatch(ending) else ""
    kept = StoredPicture(hashlib.sha256(stored).hexdigest() + suffix, name, len(stored))
    target = folder / kept.file
    if not (target.is_file() and target.stat().st_size == kept.size):
        folder.mkdir(parents=True, exist_ok=True)
        _write_whole(target, stored)
    return kept


def is_stored_name(file: str) -> bool:
    """Whether a name is one that pictures are stored under."""
    return _STORED.fullmatch(file) is not None


def find_picture(folder: Path, file: str) -> Path | None:
    """Return where a stored picture lies, or None; anything but a stored name is refused."""
    if not is_stored_name(file):
        return None
    path = folder / file
    return path if path.is_file() else None


def _write_whole(target: Path, content: bytes) -> None:
    """Write beside, flush to the disk, rename: the name never stands for half a picture."""
    number, beside = tempfile.mkstemp(prefix=".half-", dir=target.parent)
    try:
        with os.fdopen(number, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(beside).replace(target)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    _flush_folder(target.parent)


def _flush_folder(folder: Path) -> None:
    """Make the rename last through a power cut, where the system lets folders be flushed."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
