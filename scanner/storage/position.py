"""Blank the position (GPS) bytes of a photograph in place, so that its length stays the same.

Read: Exif 3.0 (CIPA DC-008) for the GPS directory (tag 0x8825 of the first directory), TIFF 6.0
for directories, XMP part 2 for the `exif:GPS...` properties. JPEG, HEIC, WebP and TIFF keep a
TIFF block as it is somewhere in the file, a second picture of the same file its own; so every
TIFF block in the bytes is treated, wherever it lies. PNG also needs its checksums made anew.
"""

import re
import struct
import zlib
from dataclasses import dataclass

_TIFF_HEAD = re.compile(rb"II\*\x00|MM\x00\*")
_GPS_TAG = 0x8825
# GPSHPositioningError.
_LAST_GPS_TAG = 0x1F
# Bytes of one value by TIFF type; 13 is the directory pointer.
_TYPE_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_ENTRY = 12
# More than any camera writes; keeps a chance hit in picture data from being taken for Exif.
_MOST_ENTRIES = 200
_XMP_ATTRIBUTE = re.compile(rb"""(?<=exif:GPS)(\w+\s*=\s*)("[^"]*"|'[^']*')""")
_XMP_ELEMENT = re.compile(rb"<exif:GPS(\w+)>[^<]*</exif:GPS\1>")
_PNG_HEAD = b"\x89PNG\r\n\x1a\n"


@dataclass(frozen=True, slots=True)
class _Directory:
    entries: tuple[tuple[int, int, int, int], ...]  # tag, type, count, offset of the value field
    start: int


def blank_position(photo: bytes) -> bytes:
    """Return the same photograph, byte for byte as long, without a place in it."""
    blanked = bytearray(photo)
    for head in _TIFF_HEAD.finditer(photo):
        _blank_tiff(blanked, head.start())
    _blank_xmp(blanked)
    if photo.startswith(_PNG_HEAD):
        _mend_png_checksums(blanked)
    return bytes(blanked)


def _blank_tiff(photo: bytearray, base: int) -> None:
    order = "<" if photo[base : base + 2] == b"II" else ">"
    if base + 8 > len(photo):
        return
    (first,) = struct.unpack_from(f"{order}I", photo, base + 4)
    directory = _read_directory(photo, base, first, order)
    if directory is None:
        return
    for tag, kind, count, field in directory.entries:
        if tag == _GPS_TAG and kind in (4, 13) and count == 1:
            (offset,) = struct.unpack_from(f"{order}I", photo, field)
            gps = _read_directory(photo, base, offset, order)
            if gps is not None and _tells_a_place(gps):
                _empty_directory(photo, base, gps, order)


def _read_directory(photo: bytearray, base: int, offset: int, order: str) -> _Directory | None:
    start = base + offset
    if offset < 8 or start + 2 > len(photo):
        return None
    (number,) = struct.unpack_from(f"{order}H", photo, start)
    if not 0 < number <= _MOST_ENTRIES or start + 2 + number * _ENTRY > len(photo):
        return None
    entries = []
    for index in range(number):
        place = start + 2 + index * _ENTRY
        tag, kind, count = struct.unpack_from(f"{order}HHI", photo, place)
        entries.append((tag, kind, count, place + 8))
    return _Directory(tuple(entries), start)


def _tells_a_place(directory: _Directory) -> bool:
    """Whether this is a GPS directory, not picture data that a damaged pointer leads to.

    Readers pass over an entry of a type they do not know and read the others; so do we.
    """
    are_known = all(kind in _TYPE_BYTES for _, kind, _, _ in directory.entries)
    return are_known or all(tag <= _LAST_GPS_TAG for tag, _, _, _ in directory.entries)


def _empty_directory(photo: bytearray, base: int, gps: _Directory, order: str) -> None:
    for _, kind, count, field in gps.entries:
        size = _TYPE_BYTES.get(kind, 0) * count
        if size > 4:
            (offset,) = struct.unpack_from(f"{order}I", photo, field)
            end = min(base + offset + size, len(photo))
            if base + offset < end:
                photo[base + offset : end] = bytes(end - base - offset)
    # A directory of no entries is valid; the zeros after it read as "no further directory".
    size = 2 + len(gps.entries) * _ENTRY
    photo[gps.start : gps.start + size] = bytes(size)


def _blank_xmp(photo: bytearray) -> None:
    whole = bytes(photo)
    if b"exif:GPS" not in whole:
        return
    for found in _XMP_ATTRIBUTE.finditer(whole):
        start, end = found.span(2)
        photo[start + 1 : end - 1] = b" " * (end - start - 2)
    for found in _XMP_ELEMENT.finditer(whole):
        start = whole.index(b">", found.start()) + 1
        end = whole.rindex(b"</", start, found.end())
        photo[start:end] = b" " * (end - start)


def _mend_png_checksums(photo: bytearray) -> None:
    place = len(_PNG_HEAD)
    while place + 12 <= len(photo):
        (size,) = struct.unpack_from(">I", photo, place)
        end = place + 8 + size
        if end + 4 > len(photo):
            return
        if bytes(photo[place + 4 : place + 8]) in (b"eXIf", b"iTXt"):
            struct.pack_into(">I", photo, end, zlib.crc32(photo[place + 4 : end]))
        place = end + 4
