"""A damaged HEIC picture is refused, also where its decoder dies over it."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest
from PIL import Image

from scanner.app.lot.add_boards import thumbnail
from scanner.errors import PhotoError
from scanner.vision.photos import heic
from scanner.vision.photos.photo import read_photo

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[2] / ".." / "shared"))
# The first box of a HEIF file (ISO/IEC 23008-12), and nothing behind it.
HEAD = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"


def test_a_heif_file_is_told_by_its_first_box():
    assert heic.is_heic(HEAD)
    assert not heic.is_heic(b"\xff\xd8\xff\xe0" + bytes(20))


def test_a_decoder_that_dies_is_a_damaged_picture(tmp_path: Path, monkeypatch):
    def dies(*_: object, **__: object) -> FakeChild:
        return FakeChild()

    monkeypatch.setattr(heic.subprocess, "Popen", dies)
    photo = tmp_path / "front.heic"
    photo.write_bytes(HEAD)
    with pytest.raises(PhotoError, match=r"front\.heic is damaged"):
        read_photo(photo)


def test_an_empty_file_of_that_kind_is_refused_by_the_real_decoder(tmp_path: Path):
    photo = tmp_path / "front.heic"
    photo.write_bytes(HEAD)
    with pytest.raises(PhotoError, match="damaged or only half there"):
        read_photo(photo)
    assert thumbnail(HEAD) is None


@pytest.mark.slow
def test_a_real_one_is_shown_small_and_upright():
    photos = sorted((REAL / "photos" / "exif").glob("*.heic"))
    if not photos:
        pytest.skip("no real HEIC photos in BOTHFACES_REAL")
    for photo in photos[:2]:
        seen = read_photo(photo).pixels
        small = Image.open(io.BytesIO(thumbnail(photo.read_bytes())))
        assert (small.width < small.height) == (seen.shape[1] < seen.shape[0])


class FakeChild:
    """A decoder that took the file and ended without a word."""

    def __init__(self) -> None:
        self.stdin, self.stdout = io.BytesIO(), io.BytesIO()

    def __enter__(self) -> FakeChild:
        return self

    def __exit__(self, *_: object) -> None: ...

    def kill(self) -> None: ...
