"""Left-overs are kept with what is known of them, and found again."""

import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from scanner.app.cutting.keep_stock import keep_from_lot, left_overs, take_from_stock
from scanner.app.lot.open_lot import new_stamp
from scanner.errors import FileError
from scanner.files.board_file import board_json, read_board
from scanner.placement.layout import Offcut
from scanner.storage.lots import open_lot
from tests.command import run
from tests.common import ash_board, flat_picture, plain_board
from tests.lot.laid import layout_of

PARTS = """name,quantity,length,width,thickness,faces
bench cleat,1,280 mm,44 mm,20 mm,hidden
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A scanned board with pictures and a parts list; placed by the first test that asks."""
    tmp_path = tmp_path_factory.mktemp("made")
    board = ash_board(looked_over=True)
    folder = tmp_path / "B01"
    folder.mkdir()
    (folder / "board.json").write_text(board_json(board))
    for face in (1, 2):
        flat_picture(board, face).save(folder / board.faces[face].picture)
    (tmp_path / "parts.csv").write_text(PARTS)
    return tmp_path


@pytest.fixture
def shop(made, tmp_path, capsys, monkeypatch, no_sheets):
    """A copy of a scanned board with pictures, and of a layout that leaves much of it over."""
    if not (made / "layout").exists():
        ran = run(
            capsys, monkeypatch, "place", made / "parts.csv", made / "B01" / "board.json",
            "--work", 20, "-o", made / "layout",
        )  # fmt: skip
        assert ran.status == 0
    return shutil.copytree(made, tmp_path / "shop")


def keep(shop, capsys, monkeypatch):
    layout, board = shop / "layout" / "layout.json", shop / "B01" / "board.json"
    return run(capsys, monkeypatch, "stock", "keep", layout, board, "-o", shop / "stock")


def test_a_left_over_keeps_its_picture_in_its_place(shop, capsys, monkeypatch):
    assert keep(shop, capsys, monkeypatch).status == 0
    layout = json.loads((shop / "layout" / "layout.json").read_text())
    offcut = layout["offcuts"][0]
    piece = read_board(shop / "stock" / "B01-rest" / "board.json")
    assert piece.length.value_mm == pytest.approx(offcut["length"], abs=0.5)
    face = piece.faces[1]
    cropped = np.asarray(
        Image.open(shop / "stock" / "B01-rest" / face.picture).convert("RGB"), float
    )
    board = read_board(shop / "B01" / "board.json")
    whole = np.asarray(flat_picture(board, 1).convert("RGB"), float)
    # The same place of the board in both pictures: the middle of the left-over.
    at = np.array([offcut["length"] / 2, offcut["width"] / 2])
    px = np.round((at - face.picture_origin) / face.mm_per_px).astype(int)
    origin = np.array(board.faces[1].picture_origin)
    there = np.round(
        (at + np.array([offcut["x"], offcut["y"]]) - origin) / board.faces[1].mm_per_px
    ).astype(int)
    ours = cropped[px[1] - 8 : px[1] + 9, px[0] - 8 : px[0] + 9].mean(axis=(0, 1))
    theirs = whole[there[1] - 8 : there[1] + 9, there[0] - 8 : there[0] + 9].mean(axis=(0, 1))
    assert ours == pytest.approx(theirs, abs=6)


def test_a_clear_piece_is_found_by_size_and_species(shop, capsys, monkeypatch):
    keep(shop, capsys, monkeypatch)
    layout = json.loads((shop / "layout" / "layout.json").read_text())
    largest = layout["offcuts"][0]

    def find(length, width, *more):
        return run(capsys, monkeypatch, "stock", "find", shop / "stock", length, width, *more).out

    # A piece keeps 1 mm for the cut and its share of the scale's U from its edges.
    just = (f"{largest['length'] - 6:.1f}mm", f"{largest['width'] - 6:.1f}mm")
    assert "B01-rest" in find(*just)
    assert "B01-rest" in find(*just, "--species", "White Ash")
    assert "nothing in stock" in find(*just, "--species", "walnut")
    assert "nothing in stock" in find(f"{largest['length'] + 2:.1f}mm", "10mm")


def test_a_left_over_is_kept_once_and_what_is_there_stays(shop, capsys, monkeypatch):
    def all_of_it():
        return {p: p.read_bytes() for p in (shop / "stock").rglob("*") if p.is_file()}

    assert keep(shop, capsys, monkeypatch).status == 0
    before = all_of_it()
    ran = keep(shop, capsys, monkeypatch)
    assert ran.status == 2
    assert "every left-over of the layout is in stock already" in ran.sentence
    assert all_of_it() == before
    # One that was used up meanwhile comes back, the others are told to be there.
    offcuts = json.loads((shop / "layout" / "layout.json").read_text())["offcuts"]
    shutil.rmtree(shop / "stock" / "B01-rest")
    ran = keep(shop, capsys, monkeypatch)
    assert ran.status == 0 and all_of_it() == before
    assert ran.out.count("in stock already") == len(offcuts) - 1


@pytest.mark.slow
def test_other_wood_of_the_same_name_is_kept_beside_it(shop, capsys, monkeypatch):
    keep(shop, capsys, monkeypatch)
    offcuts = json.loads((shop / "layout" / "layout.json").read_text())["offcuts"]
    file = shop / "B01" / "board.json"
    board = json.loads(file.read_text())
    board["species"] = "red oak"
    file.write_text(json.dumps(board))
    assert keep(shop, capsys, monkeypatch).status == 0
    assert len(list((shop / "stock").glob("*/board.json"))) == 2 * len(offcuts)


@pytest.mark.slow
def test_left_overs_of_a_board_of_another_size_are_refused(shop, capsys, monkeypatch):
    """A list of boards in inches, read as millimetres."""
    typed = shop / "typed.csv"
    typed.write_text("id,thickness,length,width\nB01,4/4,400,100\n")
    layout = shop / "layout" / "layout.json"
    ran = run(capsys, monkeypatch, "stock", "keep", layout, typed, "-o", shop / "stock")
    assert ran.status == 2
    assert "where B01 has no wood: give the boards that it was made from" in ran.sentence
    assert not (shop / "stock").exists()


def test_no_stock_is_one_sentence(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "stock", "find", tmp_path, "18in", "4in")
    assert ran.status == 2
    assert "there is no stock" in ran.sentence


@pytest.mark.slow
def test_the_next_project_starts_from_stock_before_it_opens_a_board(shop, capsys, monkeypatch):
    keep(shop, capsys, monkeypatch)
    pieces = sorted((shop / "stock").glob("*/board.json"))
    ran = run(
        capsys, monkeypatch, "place", shop / "parts.csv", shop / "B01" / "board.json", *pieces,
        "--work", 20, "-o", shop / "next",
    )  # fmt: skip
    assert ran.status == 0
    placed = json.loads((shop / "next" / "layout.json").read_text())["placements"]
    assert placed and all(one["board"].startswith("B01-rest") for one in placed)


def test_a_left_over_that_is_not_wanted_is_left_out_of_stock(in_stock, no_sheets):
    lot, folder = in_stock
    lot.save_board(plain_board(), new_stamp(lot))
    rests = (Offcut("P01", 60.0, 5.0, 500.0, 90.0), Offcut("P01", 700.0, 5.0, 300.0, 90.0))
    lot.save_layout(replace(layout_of(), offcuts=rests), lot.revision)
    wanted, other = left_overs(lot)
    assert wanted.said == "P01: 500 × 90 mm, 60 mm from end A"
    assert other.said == "P01: 300 × 90 mm, 700 mm from end A"
    stock = folder.parent / "shelf"
    assert keep_from_lot(lot, stock, {wanted.key}) == ("P01-rest  white ash, 500 × 90 mm",)
    assert [path.name for path in stock.iterdir()] == ["P01-rest"]


@pytest.fixture
def in_stock(tmp_path):
    """A piece in stock as `stock keep` leaves it, and a lot to take it into."""
    board = ash_board()
    folder = tmp_path / "stock" / "B01"
    folder.mkdir(parents=True)
    (folder / "board.json").write_text(board_json(board))
    for face in (1, 2):
        flat_picture(board, face).save(folder / board.faces[face].picture)
    lot = open_lot(tmp_path / "bench.lot")
    yield lot, folder
    lot.close()


def test_a_piece_taken_into_a_lot_leaves_the_stock(in_stock):
    lot, folder = in_stock
    assert take_from_stock(lot, folder.parent, "B01") == "B01"
    assert [board.id for board in lot.boards()] == ["B01"]
    assert not folder.exists() and folder.parent.is_dir()


def test_what_somebody_keeps_beside_a_piece_stays_when_it_is_taken(in_stock):
    lot, folder = in_stock
    (folder / "garden.jpg").write_bytes(b"mine")
    take_from_stock(lot, folder.parent, "B01")
    assert [path.name for path in folder.iterdir()] == ["garden.jpg"]


def test_a_piece_that_cannot_be_cleared_away_is_one_sentence(in_stock, monkeypatch):
    lot, folder = in_stock

    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(folder), "unlink", refused)
    with pytest.raises(FileError, match="B01 is in the lot now, but"):
        take_from_stock(lot, folder.parent, "B01")
