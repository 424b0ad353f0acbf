"""A lot moves as one ZIP and comes out as it went in; anything else is refused whole."""

import hashlib
import zipfile

import pytest

from scanner.app.lot.move_lot import export_lot
from scanner.errors import LotError
from scanner.storage import pack
from scanner.storage.lots import open_lot
from scanner.storage.pack import pack_lot, unpack_lot
from tests import common
from tests.storage.said import stamp


@pytest.fixture
def packed(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), stamp())
    lot.keep_picture(b"a picture of a board", "face 1.jpg")
    target = tmp_path / "bench.zip"
    pack_lot(lot, target)
    lot.close()
    return target


def _members(packed):
    with zipfile.ZipFile(packed) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _write(packed, members):
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return packed


def _refused(packed, tmp_path, says):
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(LotError, match=says):
        unpack_lot(packed, tmp_path / "new.lot")
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_a_lot_comes_out_as_it_went_in(packed, tmp_path):
    unpack_lot(packed, tmp_path / "new.lot")
    old, new = open_lot(tmp_path / "bench.lot"), open_lot(tmp_path / "new.lot")
    try:
        assert new.boards() == old.boards()
        assert new.revision == old.revision and new.next_undo() == old.next_undo()
        (name,) = new.picture_names()
        assert new.picture(name).read_bytes() == b"a picture of a board"
    finally:
        old.close()
        new.close()


def test_a_lot_is_packed_while_it_is_written(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), stamp())
    # What a second connection wrote lies in the write-ahead log only.
    pack_lot(lot, tmp_path / "bench.zip")
    lot.close()
    unpack_lot(tmp_path / "bench.zip", tmp_path / "new.lot")
    new = open_lot(tmp_path / "new.lot")
    assert [board.id for board in new.boards()] == ["B01"]
    new.close()


@pytest.mark.parametrize(
    "name",
    ["../outside.jpg", "/etc/passwd", "photos/../../x.jpg", "photos/", "photos/a.jpg", "readme.txt",
     "photos/" + "0" * 64 + ".jpg/x", "photos\\" + "0" * 64],
)  # fmt: skip
def test_a_name_that_we_do_not_write_is_refused(packed, tmp_path, name):
    _write(packed, _members(packed) | {name: b"x"})
    _refused(packed, tmp_path, "does not belong in it")


def test_a_photo_that_is_not_what_its_name_says_is_refused(packed, tmp_path):
    name = "photos/" + hashlib.sha256(b"one").hexdigest() + ".jpg"
    _write(packed, _members(packed) | {name: b"another"})
    _refused(packed, tmp_path, "a photo in it is damaged")


def test_a_missing_photo_is_said(packed, tmp_path):
    _write(packed, {"lot": _members(packed)["lot"]})
    _refused(packed, tmp_path, "1 of its photos are missing")


def test_a_zip_without_a_lot_is_refused(packed, tmp_path):
    _write(packed, {name: b"" for name in _members(packed) if name != "lot"})
    _refused(packed, tmp_path, "no lot file")


def test_what_unpacks_to_more_than_a_photo_can_be_is_refused(packed, tmp_path, monkeypatch):
    monkeypatch.setattr(pack, "MOST_PHOTO_BYTES", 1000)
    content = b"\0" * 2000
    name = "photos/" + hashlib.sha256(content).hexdigest() + ".jpg"
    _write(packed, _members(packed) | {name: content})
    _refused(packed, tmp_path, "too large")


def test_more_than_a_lot_holds_is_refused_before_it_is_unpacked(packed, tmp_path, monkeypatch):
    monkeypatch.setattr(pack, "MOST_BYTES", 1000)
    _refused(packed, tmp_path, "more than a lot does")


@pytest.mark.parametrize("content", [b"", b"no zip at all", b"PK\x03\x04 cut off"])
def test_what_is_no_zip_is_refused(tmp_path, content):
    packed = tmp_path / "bench.zip"
    packed.write_bytes(content)
    _refused(packed, tmp_path, "damaged or no ZIP")


def test_a_lot_file_in_it_that_is_none_is_refused(packed, tmp_path):
    _write(packed, _members(packed) | {"lot": b"these are not the bytes of a lot"})
    _refused(packed, tmp_path, "is no lot file")


def test_a_lot_that_is_there_is_not_written_over(packed, tmp_path):
    with pytest.raises(LotError, match="there is a lot bench already"):
        unpack_lot(packed, tmp_path / "bench.lot")


def test_a_zip_cut_off_anywhere_leaves_nothing_behind(packed, tmp_path):
    whole = packed.read_bytes()
    for share in (0.2, 0.6, 0.99):
        packed.write_bytes(whole[: int(len(whole) * share)])
        _refused(packed, tmp_path, "no packed lot")


@pytest.mark.parametrize(
    ("harm", "says"),
    [
        (lambda picture: picture.unlink(), "is missing"),
        (lambda picture: picture.write_bytes(b"a"), "is damaged"),
    ],
)
def test_a_lot_whose_pictures_are_not_whole_is_not_packed(tmp_path, harm, says):
    """The ZIP was written without a word, and could not be taken in again."""
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), stamp())
    harm(lot.folder / lot.keep_picture(b"a picture of a board", "face 1.jpg").file)
    with pytest.raises(LotError, match=f"{says}, so it cannot be packed whole: put the folder"):
        export_lot(lot, tmp_path / "bench.zip")
    lot.close()
    assert not list(tmp_path.glob("bench.zip*"))
