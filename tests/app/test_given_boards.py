"""A lot stands where a board.json may stand: what was said on the page holds for the commands."""

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest
from PIL import Image
from shapely.geometry import box

from scanner.app.buying.grade_boards import grade_boards
from scanner.app.buying.tally_boards import tally_boards
from scanner.app.cutting.lasting_ends import ends_from_files
from scanner.app.lot.given_boards import read_given_boards, refuse_begun_lots
from scanner.app.lot.open_lot import new_stamp, open_lot, take_board
from scanner.app.nodding.review_flaws import look_over, strike
from scanner.app.placing.given_layout import read_given
from scanner.app.placing.place_parts import place_parts, units_doubt
from scanner.app.placing.plan_cuts import load_pictures
from scanner.board.flaw import Flaw, FlawKind
from scanner.errors import BoardError, PlacementError
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json
from scanner.storage.lots import Action
from scanner.storage.ticks import Ticks
from tests import common
from tests.app.placed_lot import PARTS as LISTED
from tests.app.placed_lot import PLACED
from tests.command import run
from tests.lot.laid import layout_of

# One part as long and wide as the board gives it: a flaw in the middle leaves no room.
PARTS = "name,quantity,length,width,thickness,faces\nseat,1,800,120,19,both\n"
SPOT = Flaw("F1", FlawKind.KNOT, {1: box(490, 90, 510, 110)}, score=0.4)


def _said(lot, change):
    lot.record(Action(new_stamp(lot), "P01", "said", change))


@pytest.fixture
def lot(empty_lot):
    board = common.plain_board(length_mm=1000.0, looked_over=False)
    empty_lot.save_board(board.with_flaws((SPOT,)), new_stamp(empty_lot))
    return empty_lot


@pytest.fixture
def place(tmp_path, no_sheets):
    """Return what came of a list of one part on a lot's boards."""
    parts = tmp_path / "parts.csv"
    parts.write_text(PARTS)

    def placed(lot):
        result, _ = place_parts(parts, (lot.path,), tmp_path / "layout", work=3)
        return result.layout

    return placed


def test_a_file_of_another_ending_is_what_its_content_says(tmp_path):
    """A list of boards saved as boards.txt, or through a pipe, was called no JSON."""
    table, record = tmp_path / "boards.txt", tmp_path / "board"
    table.write_text("id\tthickness\tlength\twidth\nT1\t4/4\t2000\t150\n")
    record.write_text(board_json(common.plain_board()))
    boards, folders = read_given_boards((table, record), "mm")
    assert [board.id for board in boards] == ["T1", "P01"]
    assert set(folders.values()) == {tmp_path}


@pytest.mark.slow
@pytest.mark.parametrize("asked", ["tally", "grade", "place"])
def test_a_flaw_off_the_board_is_told_by_every_command_that_counts_flaws(
    asked, tmp_path, no_sheets
):
    away = replace(SPOT, outlines={1: box(300, 900, 340, 940)})
    board = tmp_path / "board.json"
    board.write_text(board_json(common.plain_board().with_flaws((away,))))
    if asked == "tally":
        said = tally_boards((board,))
    elif asked == "grade":
        said, _ = grade_boards((board,))
    else:
        (tmp_path / "parts.csv").write_text(PARTS)
        result, _ = place_parts(tmp_path / "parts.csv", (board,), tmp_path / "layout", work=3)
        said = result.advice
    assert sum("wholly off the board" in line for line in said) == 1


@pytest.mark.slow
def test_a_flaw_struck_on_the_page_gives_its_wood_back_to_place(lot, place):
    assert place(lot).summary.placed == 0
    _said(lot, lambda board: strike(board, "F1"))
    layout = place(lot)
    assert layout.summary.placed == 1 and layout.not_looked_over == ("P01",)
    for face in (1, 2):
        _said(lot, lambda board, face=face: look_over(board, face))
    assert place(lot).not_looked_over == ()


def test_a_board_looked_over_on_the_page_is_so_in_the_tally(lot, capsys, monkeypatch):
    assert "NOT LOOKED OVER" in run(capsys, monkeypatch, "tally", lot.path).out
    for face in (1, 2):
        _said(lot, lambda board, face=face: look_over(board, face))
    ran = run(capsys, monkeypatch, "tally", lot.path)
    assert ran.status == 0 and "P01" in ran.out and "NOT LOOKED OVER" not in ran.out


def test_a_lot_brings_its_pictures_and_stands_beside_a_typed_list(tmp_path):
    lot = open_lot(tmp_path / "bench 100%.lot")
    for number in (1, 2):
        Image.new("RGB", (8, 4), (200, 0, 40 * number)).save(tmp_path / f"B01-face{number}.jpg")
    take_board(lot, common.ash_board(), tmp_path, {})
    typed = tmp_path / "typed.csv"
    typed.write_text("id,length,width,thickness\nT01,2400,150,4/4\n")
    boards, folders = read_given_boards((lot.path, typed))
    assert boards[:1] == lot.boards() and [board.id for board in boards] == ["B01", "T01"]
    pictures = load_pictures(boards[:1], folders)
    assert [pictures["B01", number].size for number in (1, 2)] == [(8, 4), (8, 4)]
    lot.close()


def test_a_board_that_the_lot_and_a_file_both_hold_is_refused(tmp_path, lot):
    file = tmp_path / "board.json"
    file.write_text(board_json(lot.board("P01")))
    with pytest.raises(BoardError, match="two boards are called P01"):
        read_given_boards((lot.path, file))


@pytest.mark.parametrize("is_open", [True, False])
def test_a_lot_is_only_read(lot, is_open):
    if not is_open:
        lot.close()

    def all_of_it():
        files = sorted(lot.path.parent.glob(f"{lot.path.name}*"))
        # The index of the write-ahead log holds the readers' own marks and no data.
        return {path: path.read_bytes() for path in files if not path.name.endswith("-shm")}

    before = all_of_it()
    read_given_boards((lot.path,))
    refuse_begun_lots((lot.path,))
    assert all_of_it() == before


def _newer(path):
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 99")


def _damaged(path):
    content = bytearray(path.read_bytes())
    content[4096:12288] = b"\x5a" * 8192
    path.write_bytes(content)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (_newer, "was written by a newer bothfaces"),
        (_damaged, "is damaged"),
        (lambda path: path.write_text("boards"), "is no lot file"),
        (lambda path: path.unlink(), "There is no lot file bench.lot"),
        (lambda path: path.write_bytes(b""), "holds no board yet"),
    ],
)
def test_a_lot_that_cannot_be_read_is_refused_in_a_sentence(lot, spoil, said, capsys, monkeypatch):
    lot.close()
    spoil(lot.path)
    ran = run(capsys, monkeypatch, "tally", lot.path)
    assert ran.status == 2 and said in ran.sentence


def test_no_new_layout_is_laid_over_parts_that_are_cut_already(lot, place):
    cut = replace(PLACED[0], state="cut")
    for ticks in (Ticks((cut,)), Ticks((), (cut,))):
        lot.tick(new_stamp(lot), "cut", lambda now, layouts, ticks=ticks: ticks)
        with pytest.raises(PlacementError, match=r"parts of bench\.lot are cut already"):
            place(lot)
    lot.tick(new_stamp(lot), "none", lambda now, layouts: Ticks())
    refuse_begun_lots((lot.path,))


def test_which_boards_to_take_is_not_answered_over_parts_that_are_cut(
    lot, tmp_path, capsys, monkeypatch
):
    lot.tick(new_stamp(lot), "cut", lambda *_: Ticks((replace(PLACED[0], state="cut"),)))
    (tmp_path / "parts.csv").write_text(PARTS)
    ran = run(capsys, monkeypatch, "choose", tmp_path / "parts.csv", lot.path)
    assert ran.status == 2 and "parts of bench.lot are cut already" in ran.sentence


def test_a_layout_beside_a_begun_lot_has_its_parts_cut_where_they_were_cut(placed_lot, tmp_path):
    files = tmp_path / "layout.json", tmp_path / "parts.csv"
    files[0].write_text(layout_json(layout_of(*PLACED)))
    files[1].write_text(LISTED)
    (cut, spoiled) = replace(PLACED[0], state="cut"), PLACED[3]
    placed_lot.tick(new_stamp(placed_lot), "cut", lambda *_: Ticks((cut,), (spoiled,)))
    given = read_given(*files, (placed_lot.path,))
    assert given.layout.placements[0].state == "cut"
    assert given.spoiled == (replace(PLACED[3], state="spoiled"),)
    # No piece of this layout holds it.
    assert given.layout.placements[1:] == (*PLACED[1:3], *PLACED[4:])
    assert "marked" in [flaw.kind for flaw in given.boards[0].flaws]
    for others in (PLACED[1:], (replace(PLACED[0], x_mm=1500.0), *PLACED[1:])):
        files[0].write_text(layout_json(layout_of(*others)))
        with pytest.raises(PlacementError, match=r"front 1 of bench\.lot is cut on P01"):
            read_given(*files, (placed_lot.path,))


def test_where_one_board_is_asked_for_a_lot_is_refused_by_its_name(lot, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "trust", f"{lot.path}=1000mm", "--profile", "phones.json")
    assert ran.status == 2 and "is a lot, and one board.json is asked for here" in ran.sentence


@pytest.mark.slow
def test_a_picture_that_is_not_there_is_told(tmp_path, no_sheets):
    board = common.plain_board(length_mm=1000.0)
    faces = {
        n: replace(face, picture=f"P01-face{n}.jpg", mm_per_px=0.5, picture_origin=(0.0, 0.0))
        for n, face in board.faces.items()
    }
    (tmp_path / "parts.csv").write_text(PARTS)
    (tmp_path / "board.json").write_text(board_json(replace(board, faces=faces)))
    (tmp_path / "P01-face2.jpg").write_bytes(b"there")
    result, _ = place_parts(
        tmp_path / "parts.csv", (tmp_path / "board.json",), tmp_path / "out", work=2
    )
    said = [line for line in result.advice if "not beside the board's file" in line]
    assert len(said) == 1 and said[0].startswith("P01-face1.jpg of P01:")


@pytest.mark.parametrize(
    ("size", "flaw", "is_said"),
    [
        ("800 mm", "2 in to 3 in", False),
        ("800", "2 in to 3 in", True),
        ("800 mm", "2 to 3", True),
    ],
)
def test_a_unit_is_missed_only_where_a_list_has_bare_figures(tmp_path, size, flaw, is_said):
    shop, parts, boards = (tmp_path / name for name in ("shop.toml", "parts.csv", "boards.csv"))
    shop.write_text('units = "inch"\n')
    parts.write_text(
        f"name,quantity,length,width,thickness,faces\nbench rail,1,{size},3 in,3/4 in,both\n"
    )
    boards.write_text(
        f"id,thickness,length,width,flaws\nB01,4/4,96 in,8 in,knot both {flaw} by 1 in to 2 in\n"
    )
    said = units_doubt(shop, (parts, boards))
    assert bool(said) == is_said
    assert units_doubt(shop, (), typed=["3 mm"]) == ()
    assert units_doubt(shop, (), typed=["3"])


def test_what_ends_may_lose_names_the_boards_that_nobody_looked_over(tmp_path):
    files = tmp_path / "layout.json", tmp_path / "parts.csv"
    files[0].write_text(layout_json(layout_of(*PLACED)))
    files[1].write_text(LISTED)
    for seen in (False, True):
        board = tmp_path / "board.json"
        board.write_text(board_json(common.plain_board(looked_over=seen)))
        lines = ends_from_files(*files, (board,))
        assert any(line.startswith("NOT LOOKED OVER: P01.") for line in lines) != seen
