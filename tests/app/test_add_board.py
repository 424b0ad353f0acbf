"""Uploaded photos are kept before they are scanned, and the user's names stay the names."""

import pytest
from PIL import Image

from scanner.app.lot import add_board as errand
from scanner.app.lot.add_board import UploadedPhoto, add_board, free_board_id
from scanner.app.lot.open_lot import new_stamp
from scanner.app.scanning.scan_request import TypedOptions
from scanner.errors import PhotoError, SettingsError
from tests import common
from tests.app.uploads import GPS, photo


@pytest.fixture
def lot(empty_lot):
    return empty_lot


def test_a_scanned_board_is_in_the_lot_under_the_user_s_names(lot, scanned):
    add_board(lot, photo("front.jpg"), photo("back.jpg"), TypedOptions(species="white ash"))
    board = lot.board("B01")
    assert board.faces[1].photos == ("front.jpg",)
    assert board.notes == ("face 1: front.jpg is a little dark",)
    assert lot.picture(board.faces[2].picture).is_file()
    assert [p.name for p in lot.photos("B01")[2]] == ["back.jpg"]


def test_further_photos_of_a_face_are_kept_and_scanned_with_it(lot, scanned):
    photos = [photo(name) for name in ("front.jpg", "back.jpg", "left.jpg", "right.jpg")]
    add_board(lot, *photos[:2], TypedOptions(), more_1=(photos[2],), more_2=(photos[3],))
    kept = lot.photos("B01")
    assert {face: [p.name for p in several] for face, several in kept.items()} == {
        1: ["front.jpg", "left.jpg"],
        2: ["back.jpg", "right.jpg"],
    }
    assert scanned[0].photos_1 == tuple(lot.folder / picture.file for picture in kept[1])
    assert lot.board("B01").faces[2].photos == ("back.jpg", "right.jpg")


def test_the_kept_photo_says_no_place(lot, scanned):
    add_board(lot, photo("front.jpg"), None, TypedOptions())
    (stored,) = lot.photos("B01")[1]
    with Image.open(lot.picture(stored.file)) as image:
        assert dict(image.getexif().get_ifd(GPS)) == {}
    assert scanned[0].photos_1 == (lot.folder / stored.file,)


def test_all_boards_of_a_lot_share_what_is_known_of_the_phone(lot, scanned):
    add_board(lot, photo("front.jpg"), None, TypedOptions())
    add_board(lot, photo("other.jpg"), None, TypedOptions())
    assert {request.profile for request in scanned} == {lot.folder / "phones.json"}


def test_a_scan_that_fails_loses_no_photo_and_speaks_of_it_by_name(lot, monkeypatch):
    def fails(request, folder, progress):
        raise PhotoError(f"No rule found in {request.photos_1[0].name}", "lay one beside the board")

    monkeypatch.setattr(errand, "scan_board", fails)
    with pytest.raises(PhotoError, match=r"No rule found in front\.jpg"):
        add_board(lot, photo("front.jpg"), None, TypedOptions())
    assert lot.boards() == ()
    assert len(list(lot.folder.iterdir())) == 1


def test_a_typing_error_names_the_field_of_the_page(lot, scanned):
    with pytest.raises(SettingsError, match=r"^thickness") as caught:
        add_board(lot, photo("front.jpg"), None, TypedOptions(thickness="thick"))
    assert "--" not in str(caught.value)
    assert not lot.folder.exists()


# By its size: a content would be written into the test's name, and that goes to every worker.
@pytest.mark.parametrize("size", [0, errand.MOST_PHOTO_BYTES + 1])
def test_an_empty_or_huge_photo_is_refused(lot, size):
    with pytest.raises(PhotoError):
        add_board(lot, UploadedPhoto("front.jpg", bytes(size)), None, TypedOptions())


def test_boards_take_the_next_free_name(lot):
    assert free_board_id(lot) == "B01"
    for name in ("B01", "B03"):
        lot.save_board(common.ash_board(name), new_stamp(lot))
    assert free_board_id(lot) == "B02"
