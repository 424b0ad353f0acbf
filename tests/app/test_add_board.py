"""Uploaded photos are kept before they are scanned, and the user's names stay the names."""

import io
from dataclasses import replace

import pytest
from PIL import Image

from scanner.app import add_board as errand
from scanner.app.add_board import UploadedPhoto, add_board, free_board_id
from scanner.app.open_lot import new_stamp, open_lot
from scanner.app.scan_board import ScanResult
from scanner.app.scan_request import TypedOptions
from scanner.errors import PhotoError, SettingsError
from tests import common

_GPS = 0x8825


def _photo(name):
    exif = Image.Exif()
    exif.get_ifd(_GPS).update({1: "N", 2: (51.0, 30.0, 26.5)})
    file = io.BytesIO()
    Image.new("RGB", (60, 40), (150, 120, 90)).save(file, "JPEG", exif=exif, comment=name)
    return UploadedPhoto(name, file.getvalue())


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    yield lot
    lot.close()


@pytest.fixture
def scanned(monkeypatch):
    """Stand in for the scan (it has tests of its own): the drawn ash board, whatever is asked."""
    requests = []

    def scan(request, folder, progress):
        requests.append(request)
        board = common.ash_board(request.id)
        photos = {1: request.photos_1, 2: request.photos_2}
        for number in board.faces:
            common.flat_picture(board, number).save(folder / f"{request.id}-face{number}.jpg")
        faces = {
            number: replace(face, photos=tuple(path.name for path in photos[number]))
            for number, face in board.faces.items()
        }
        note = f"face 1: {request.photos_1[0].name} is a little dark"
        return ScanResult(replace(board, faces=faces, notes=(note,)), folder, ())

    monkeypatch.setattr(errand, "scan_board", scan)
    return requests


def test_a_scanned_board_is_in_the_lot_under_the_user_s_names(lot, scanned):
    add_board(lot, _photo("front.jpg"), _photo("back.jpg"), TypedOptions(species="white ash"))
    board = lot.board("B01")
    assert board.faces[1].photos == ("front.jpg",)
    assert board.notes == ("face 1: front.jpg is a little dark",)
    assert lot.picture(board.faces[2].picture).is_file()
    assert [p.name for p in lot.photos("B01")[2]] == ["back.jpg"]


def test_further_photos_of_a_face_are_kept_and_scanned_with_it(lot, scanned):
    photos = [_photo(name) for name in ("front.jpg", "back.jpg", "left.jpg", "right.jpg")]
    add_board(lot, *photos[:2], TypedOptions(), more_1=(photos[2],), more_2=(photos[3],))
    kept = lot.photos("B01")
    assert {face: [p.name for p in several] for face, several in kept.items()} == {
        1: ["front.jpg", "left.jpg"],
        2: ["back.jpg", "right.jpg"],
    }
    assert scanned[0].photos_1 == tuple(lot.folder / picture.file for picture in kept[1])
    assert lot.board("B01").faces[2].photos == ("back.jpg", "right.jpg")


def test_the_kept_photo_says_no_place(lot, scanned):
    add_board(lot, _photo("front.jpg"), None, TypedOptions())
    (stored,) = lot.photos("B01")[1]
    with Image.open(lot.picture(stored.file)) as image:
        assert dict(image.getexif().get_ifd(_GPS)) == {}
    assert scanned[0].photos_1 == (lot.folder / stored.file,)


def test_all_boards_of_a_lot_share_what_is_known_of_the_phone(lot, scanned):
    add_board(lot, _photo("front.jpg"), None, TypedOptions())
    add_board(lot, _photo("other.jpg"), None, TypedOptions())
    assert {request.profile for request in scanned} == {lot.folder / "phones.json"}


def test_a_scan_that_fails_loses_no_photo_and_speaks_of_it_by_name(lot, monkeypatch):
    def fails(request, folder, progress):
        raise PhotoError(f"No rule found in {request.photos_1[0].name}", "lay one beside the board")

    monkeypatch.setattr(errand, "scan_board", fails)
    with pytest.raises(PhotoError, match=r"No rule found in front\.jpg"):
        add_board(lot, _photo("front.jpg"), None, TypedOptions())
    assert lot.boards() == ()
    assert len(list(lot.folder.iterdir())) == 1


def test_a_typing_error_names_the_field_of_the_page(lot, scanned):
    with pytest.raises(SettingsError, match=r"^thickness") as caught:
        add_board(lot, _photo("front.jpg"), None, TypedOptions(thickness="thick"))
    assert "--" not in str(caught.value)
    assert not lot.folder.exists()


@pytest.mark.parametrize("content", [b"", bytes(errand.MOST_PHOTO_BYTES + 1)])
def test_an_empty_or_huge_photo_is_refused(lot, content):
    with pytest.raises(PhotoError):
        add_board(lot, UploadedPhoto("front.jpg", content), None, TypedOptions())


def test_boards_take_the_next_free_name(lot):
    assert free_board_id(lot) == "B01"
    for name in ("B01", "B03"):
        lot.save_board(common.ash_board(name), new_stamp(lot))
    assert free_board_id(lot) == "B02"
