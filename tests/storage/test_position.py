"""The position goes out of a photograph, the rest of it stays."""

import hashlib
import io
import os
import struct
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from scanner.storage.position import blank_position

_GPS = 0x8825
_PLACE = {1: "N", 2: (51.0, 30.0, 26.5), 3: "W", 4: (0.0, 7.0, 39.0), 29: "2026:05:04"}
_REAL = Path(os.environ.get("BOTHFACES_REAL", "../shared")) / "photos" / "exif"


def _picture() -> Image.Image:
    noise = np.random.default_rng(3).integers(0, 255, (40, 60, 3), dtype=np.uint8)
    return Image.fromarray(noise)


def _exif() -> Image.Exif:
    exif = Image.Exif()
    exif[0x010F] = "Maker of cameras"
    exif.get_ifd(0x8769)[0x920A] = 4.25
    exif.get_ifd(_GPS).update(_PLACE)
    return exif


def _saved(kind: str, **more: object) -> bytes:
    file = io.BytesIO()
    _picture().save(file, kind, exif=_exif(), **more)
    return file.getvalue()


def _gps(photo: bytes) -> dict[int, object]:
    with Image.open(io.BytesIO(photo)) as image:
        return dict(image.getexif().get_ifd(_GPS))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_place_is_gone_and_all_else_stays(kind):
    photo = _saved(kind)
    assert _gps(photo)[2] == pytest.approx((51.0, 30.0, 26.5))
    blanked = blank_position(photo)
    assert len(blanked) == len(photo)
    assert _gps(blanked) == {}
    with Image.open(io.BytesIO(photo)) as before, Image.open(io.BytesIO(blanked)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))
        exif = after.getexif()
        assert exif[0x010F] == "Maker of cameras"
        assert exif.get_ifd(0x8769)[0x920A] == pytest.approx(4.25)


def _retyped(photo: bytes, tag: int, kind: int, count: int) -> bytes:
    """Return the photo with the type of a directory's entry changed to one that nobody knows."""
    order = _order(photo)
    entry = struct.pack(f"{order}HHI", tag, kind, count)
    assert photo.count(entry) == 1
    return photo.replace(entry, struct.pack(f"{order}HHI", tag, 99, count))


def _order(photo: bytes) -> str:
    return "<" if b"Exif\0\0II" in photo else ">"


@pytest.mark.parametrize(
    "entry", [(0x010F, 2, 17), (4, 5, 3)], ids=["beside the place", "in the place itself"]
)
def test_an_entry_of_a_type_nobody_knows_hides_no_place(entry):
    photo = _retyped(_saved("JPEG"), *entry)
    assert _gps(photo)[2] == pytest.approx((51.0, 30.0, 26.5))
    assert _gps(blank_position(photo)) == {}


def test_a_pointer_into_the_picture_blanks_nothing_there():
    photo = bytearray(_saved("JPEG"))
    order = _order(photo)
    at = photo.index(struct.pack(f"{order}HHI", _GPS, 4, 1)) + 8
    base = photo.index(b"Exif\0\0") + 6
    # Where the picture's own bytes pass for a directory, of entries that no GPS has.
    photo += struct.pack(f"{order}H", 2) + bytes(range(60, 84)) + bytes(4)
    struct.pack_into(f"{order}I", photo, at, len(photo) - 30 - base)
    assert blank_position(bytes(photo)) == bytes(photo)


def test_a_png_cut_short_keeps_what_is_there():
    photo = _saved("PNG")
    short = blank_position(photo[:-15])
    assert len(short) == len(photo) - 15 and short.endswith(photo[-40:-15])


def test_no_number_of_the_place_is_left_in_the_bytes():
    assert struct.pack("<II", 53, 2) in _saved("JPEG")
    assert struct.pack("<II", 53, 2) not in blank_position(_saved("JPEG"))


def test_a_place_in_xmp_is_blanked():
    xmp = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description exif:GPSLatitude="51,30.44N"'
        b" exif:GPSLongitude='0,7.65W' exif:Make=\"keep\"><exif:GPSAltitude>35/1"
        b"</exif:GPSAltitude></rdf:Description></x:xmpmeta>"
    )
    photo = _saved("JPEG", xmp=xmp)
    blanked = blank_position(photo)
    assert len(blanked) == len(photo)
    assert b"51,30" not in blanked and b"7.65W" not in blanked and b"35/1" not in blanked
    assert b'exif:Make="keep"' in blanked


def test_a_place_in_a_png_text_is_blanked_and_the_checksum_mended():
    text = PngImagePlugin.PngInfo()
    text.add_itxt("XML:com.adobe.xmp", '<a exif:GPSLatitude="51,30.44N"/>')
    file = io.BytesIO()
    _picture().save(file, "PNG", pnginfo=text)
    blanked = blank_position(file.getvalue())
    assert b"51,30" not in blanked
    with Image.open(io.BytesIO(blanked)) as image:
        image.verify()


def test_a_picture_without_a_place_stays_byte_for_byte():
    file = io.BytesIO()
    _picture().save(file, "JPEG")
    assert blank_position(file.getvalue()) == file.getvalue()


@pytest.mark.parametrize(
    "rest", [b"", b"II*\x00", b"MM\x00*\x00\x00\x00\x08\x00\x05", b"II*\x00\xff"]
)
def test_broken_bytes_pass_through(rest):
    assert blank_position(rest) == rest


@pytest.mark.parametrize("lead", [b"Exif\x00\x00", b""])
def test_an_exif_block_inside_a_container_is_found(lead):
    # HEIC keeps Exif as an item behind a four-byte offset, with or without the word Exif
    # (ISO/IEC 23008-12, annex A.2.1); the picture itself does not matter here.
    block = _exif().tobytes().removeprefix(b"Exif\x00\x00")
    container = b"\x00\x00\x00\x18ftypheic" + bytes(40) + lead + block + b"picture"
    blanked = blank_position(container)
    assert len(blanked) == len(container) and blanked.endswith(b"picture")
    exif = Image.Exif()
    exif.load(blanked[52 + len(lead) : -7])
    assert dict(exif.get_ifd(_GPS)) == {}
    assert exif[0x010F] == "Maker of cameras"


def test_chance_hits_in_noise_change_nothing():
    noise = np.random.default_rng(7).integers(0, 255, 200_000, dtype=np.uint8).tobytes()
    planted = noise[:1000] + b"II*\x00" + noise[1004:]
    assert blank_position(planted) == planted


@pytest.mark.slow
@pytest.mark.real
@pytest.mark.skipif(not _REAL.is_dir(), reason=f"no real pictures in {_REAL}")
def test_real_phone_pictures_stay_the_pictures_they_are():
    import pi_heif

    pi_heif.register_heif_opener()
    for path in sorted(_REAL.iterdir()):
        if path.suffix.lower() not in (".jpg", ".heic"):
            continue
        photo = path.read_bytes()
        blanked = blank_position(photo)
        assert len(blanked) == len(photo)
        assert _gps(blanked) == {}, path.name
        with Image.open(io.BytesIO(photo)) as before, Image.open(io.BytesIO(blanked)) as after:
            assert _picture_hash(before) == _picture_hash(after)
            assert before.getexif().get(0x0110) == after.getexif().get(0x0110)


def _picture_hash(image: Image.Image) -> str:
    return hashlib.sha256(image.tobytes()).hexdigest()
