"""Move a lot as one ZIP: its file and its photos; what comes in is not trusted.

Members are ``lot`` (the SQLite file) and ``photos/NAME`` with the names the photos are stored
under, that is, the hashes of their bytes.
"""

import errno
import hashlib
import lzma
import struct
import tempfile
import zipfile
import zlib
from pathlib import Path

from scanner.errors import LotError
from scanner.storage.lots import Lot, open_lot
from scanner.storage.photos import find_picture, is_stored_name, photo_folder
from scanner.storage.refusals import told_plainly

_FILE, _PHOTOS = "lot", "photos/"
# A lot of 100 boards has a file of some 20 MB and 400 photos; far above it a ZIP is no lot.
MOST_MEMBERS = 5_000
MOST_FILE_BYTES = 1_000_000_000
MOST_PHOTO_BYTES = 200_000_000
MOST_BYTES = 20_000_000_000
_PIECE = 1 << 20
# What zipfile and its unpackers raise over damaged members.
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
)


def pack_lot(lot: Lot, target: Path) -> None:
    """Write the lot as it stands now into one ZIP; it may go on being used meanwhile.

    Raises
    ------
    LotError
        The ZIP cannot be written, or a picture of the lot is missing or damaged: a ZIP of the rest
        could not be taken in again.
    """
    with (
        told_plainly(target.with_name(target.name.removesuffix(".half"))),
        tempfile.TemporaryDirectory(prefix="bothfaces-") as folder,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed,
    ):
        copy = Path(folder) / _FILE
        lot.copy_file(copy)
        packed.write(copy, _FILE)
        for name in lot.picture_names():
            picture = find_picture(lot.folder, name)
            if picture is None or _hash_of(picture) != name[:64]:
                raise _lacks_picture(lot, name, "is missing" if picture is None else "is damaged")
            # Photos are packed already.
            packed.write(picture, _PHOTOS + name, zipfile.ZIP_STORED)


def _hash_of(picture: Path) -> str:
    with picture.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def _lacks_picture(lot: Lot, name: str, how: str) -> LotError:
    return LotError(
        f"{name[:12]}... of the pictures of {lot.path.name} {how}, so it cannot be packed whole",
        f"put the folder {lot.folder.name} back as it was beside it",
    )


def unpack_lot(packed: Path, target: Path) -> None:
    """Make a lot of a ZIP that `pack_lot` wrote; nothing is left behind where it is none.

    Raises
    ------
    LotError
        The ZIP is no lot, damaged, too large, or the lot is there already.
    """
    if target.exists() or photo_folder(target).exists():
        raise LotError(f"there is a lot {target.stem} already", "choose another name")
    with (
        told_plainly(target),
        tempfile.TemporaryDirectory(prefix=".half-", dir=target.parent) as folder,
    ):
        half = Path(folder) / target.name
        photos = photo_folder(half)
        photos.mkdir()
        _take_out(packed, half, photos)
        # Opening judges the file, and brings an older one up to date.
        lot = open_lot(half, create=False)
        missing = [name for name in lot.picture_names() if find_picture(photos, name) is None]
        lot.close()
        if missing:
            raise _no_lot(packed, f"{len(missing)} of its photos are missing")
        # The photos first: a lot file never stands there without them.
        photos.replace(photo_folder(target))
        half.replace(target)


def _take_out(packed: Path, half: Path, photos: Path) -> None:
    try:
        with zipfile.ZipFile(packed) as archive:
            members = archive.infolist()
            _refuse_members(packed, members)
            for member in members:
                if member.filename == _FILE:
                    _write(archive, member, half, MOST_FILE_BYTES, packed)
                else:
                    name = member.filename.removeprefix(_PHOTOS)
                    found = _write(archive, member, photos / name, MOST_PHOTO_BYTES, packed)
                    if found != name[:64]:
                        raise _no_lot(packed, "a photo in it is damaged")
    except _DAMAGED as problem:
        raise _no_lot(packed, "it is damaged or no ZIP") from problem
    except OSError as problem:
        # A place before the file's beginning, as a damaged ZIP names one.
        if problem.errno != errno.EINVAL:
            raise
        raise _no_lot(packed, "it is damaged or no ZIP") from problem


def _refuse_members(packed: Path, members: list[zipfile.ZipInfo]) -> None:
    names = [member.filename for member in members]
    if len(names) > MOST_MEMBERS or sum(member.file_size for member in members) > MOST_BYTES:
        raise _no_lot(packed, "it holds more than a lot does")
    if names.count(_FILE) != 1 or len(set(names)) != len(names):
        raise _no_lot(packed, "it has no lot file, or something twice")
    for name in names:
        # Only names that we write ourselves: none of them can lead out of the folder.
        photo = name.removeprefix(_PHOTOS) if name.startswith(_PHOTOS) else ""
        if name != _FILE and not is_stored_name(photo):
            raise _no_lot(packed, f'"{name[:60]}" does not belong in it')


def _write(
    archive: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path, most: int, packed: Path
) -> str:
    """Write a member and return the SHA-256 of it; the size it claims is not believed."""
    digest, size = hashlib.sha256(), 0
    with archive.open(member) as source, target.open("xb") as file:
        while piece := source.read(_PIECE):
            size += len(piece)
            if size > most:
                raise _no_lot(packed, f"{member.filename[:60]} is too large")
            digest.update(piece)
            file.write(piece)
    return digest.hexdigest()


def _no_lot(packed: Path, why: str) -> LotError:
    return LotError(
        f"{packed.name} is no packed lot: {why}", "pack the lot anew where it came from"
    )
