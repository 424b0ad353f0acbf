"""Photos in the order they were taken become pairs, pairs become boards."""

import io

import pytest
from PIL import Image

from scanner.app.lot.add_board import UploadedPhoto
from scanner.app.lot.add_boards import BoardPhotos, add_boards, pairs, thumbnail, upright_copy
from scanner.app.scanning.scan_request import TypedOptions
from scanner.errors import PhotoError
from tests import common


@pytest.mark.parametrize(
    ("photos", "in_turn", "faces_1_first"),
    [
        ("", (), ()),
        ("a", (("a",),), (("a",),)),
        ("aA", (("a", "A"),), (("a", "A"),)),
        ("abAB", (("a", "b"), ("A", "B")), (("a", "A"), ("b", "B"))),
        # One is missing at the end: the last board has only its face 1.
        ("abcAB", (("a", "b"), ("c", "A"), ("B",)), (("a", "A"), ("b", "B"), ("c",))),
    ],
)
def test_photos_are_paired_by_order(photos, in_turn, faces_1_first):
    assert pairs(photos, "in_turn") == in_turn
    assert pairs(photos, "faces_1_first") == faces_1_first


def test_one_that_cannot_be_scanned_does_not_stop_the_rest(monkeypatch):
    told, given = [], []

    def add(lot, face_1, face_2, typed, progress, **more):
        given.append((face_1.name, [photo.name for photo in more["more_1"]], typed.corners_1))
        progress("looking", 0.5)
        if face_1.name == "b":
            raise PhotoError("b is blurred", "take it again")
        return common.ash_board(face_1.name.upper())

    monkeypatch.setattr("scanner.app.lot.add_board.add_board", add)
    photos = {name: UploadedPhoto(name, b"") for name in ("a", "b", "c", "again")}
    boards = [BoardPhotos((photos[name],), (photos[name],)) for name in "ab"]
    boards.append(BoardPhotos((photos["c"], photos["again"]), corners_1="1,2 3,4 5,6 7,8"))
    outcomes = add_boards(
        None, boards, TypedOptions(), lambda step, share: told.append((step, round(share, 2)))
    )
    assert [outcome.board for outcome in outcomes] == ["A", None, "C"]
    assert outcomes[1].problem == "b is blurred: take it again."
    assert told[1] == ("board 2 of 3, looking", 0.5)
    # Each with its own further photos and tapped corners.
    assert given[1:] == [("b", [], None), ("c", ["again"], "1,2 3,4 5,6 7,8")]


def test_the_rule_found_is_drawn_on_the_thumbnail_of_a_photo_that_lies_on_its_side():
    photo = io.BytesIO()
    exif = Image.Exif()
    exif[274] = 6
    Image.new("RGB", (1200, 800), (90, 90, 90)).save(photo, "JPEG", exif=exif)
    # Upright it is 800 wide and 1200 high: a rule along its left side.
    corners = ((100, 100), (100, 1100), (160, 1100), (160, 100))
    with Image.open(io.BytesIO(thumbnail(photo.getvalue(), corners))) as small:
        scale = small.height / 1200
        row = [small.getpixel((x, round(600 * scale)))[0] for x in range(small.width)]
    bright = [x for x, grey in enumerate(row) if grey > 180]
    assert bright and abs(bright[0] - 100 * scale) < 3 and abs(bright[-1] - 160 * scale) < 3


def test_a_thumbnail_is_small_and_upright():
    photo = io.BytesIO()
    exif = Image.Exif()
    exif[274] = 6  # lying on its side (EXIF 2.3, orientation)
    Image.new("RGB", (1200, 800)).save(photo, "JPEG", exif=exif)
    with Image.open(io.BytesIO(thumbnail(photo.getvalue()))) as small:
        assert small.height == 320 and small.width < small.height
    assert thumbnail(b"no picture") is None


@pytest.mark.slow
def test_the_copy_to_tap_on_stands_upright_and_tells_the_photo_s_own_size():
    exif = Image.Exif()
    exif[274] = 6
    file = io.BytesIO()
    Image.new("RGB", (4000, 3000), (150, 120, 90)).save(file, "JPEG", exif=exif)
    copy, size = upright_copy(file.getvalue())
    assert size == (3000, 4000)
    with Image.open(io.BytesIO(copy)) as picture:
        assert picture.size == (1500, 2000)
    assert upright_copy(b"no photo") is None
