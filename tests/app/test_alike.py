"""Boards sorted by likeness, from a folder as scan writes it, and from a lot."""

from dataclasses import replace

import pytest

from scanner.app.cutting.tick_parts import tick
from scanner.app.lot.likeness_in_lot import alike_in_lot, second_board_words
from scanner.app.lot.open_lot import new_stamp, set_parts
from scanner.board.board import Face
from scanner.board.looks import Looks
from scanner.board.measured import Measured
from scanner.files.board_file import board_json
from scanner.files.picture_file import jpeg_bytes
from scanner.storage.lots import open_lot
from tests.command import run
from tests.common import ash_board, small_layout
from tests.vision.rings import LENGTH, PX, THICK, board


def kept(folder, name, ring_mm, lab, seed):
    """Write a board whose file knows its colour, and its pictures its rings."""
    faces = {}
    (folder / name).mkdir(parents=True)
    for number, wood in board(ring_mm, seed=seed).items():
        picture = f"{name}-face{number}.jpg"
        (folder / name / picture).write_bytes(jpeg_bytes(wood.pixels))
        faces[number] = Face(
            outline=wood.outline, picture=picture, mm_per_px=PX, picture_origin=(0.0, 0.0)
        )
    made = replace(
        ash_board(),
        id=name,
        faces=faces,
        flaws=(),
        length=Measured(LENGTH, 1.0),
        thickness=Measured(THICK, 1.0),
        looks=Looks(lab=lab, spread=2.0),
    )
    (folder / name / "board.json").write_text(board_json(made), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def boards(tmp_path_factory):
    folder = tmp_path_factory.mktemp("boards")
    kept(folder, "B01", 3.0, (70, 4, 19), 1)
    kept(folder, "B02", 3.0, (71, 4, 19), 2)
    return folder


@pytest.mark.slow
def test_the_command_says_which_board_is_likest_and_draws_the_strips(
    boards, tmp_path, capsys, monkeypatch
):
    answer = run(capsys, monkeypatch, "alike", boards, "--to", "B01", "-o", tmp_path / "alike")
    assert answer.status == 0
    assert "1. B02: very like; of nearly the same colour (about 1 apart), rings" in answer.out
    assert "Colours are of the rough faces" in answer.out
    assert (tmp_path / "alike" / "alike.png").stat().st_size > 20_000


def test_a_board_that_is_not_there_is_named_with_those_that_are(
    boards, tmp_path, capsys, monkeypatch
):
    answer = run(capsys, monkeypatch, "alike", boards, "--to", "B07", "-o", tmp_path)
    assert answer.status == 2
    assert "there is no board B07" in answer.sentence and "B01, B02" in answer.sentence


def test_a_folder_without_boards_is_refused(tmp_path, capsys, monkeypatch):
    answer = run(capsys, monkeypatch, "alike", tmp_path, "--to", "B01", "-o", tmp_path / "out")
    assert answer.status == 2 and "no board.json" in answer.sentence


def test_a_lot_keeps_its_boards_looks_and_sorts_by_them(tmp_path):
    lot = open_lot(tmp_path / "ash.lot")
    for name, lightness in (("B01", 70.0), ("B02", 80.0), ("B03", 71.0)):
        looks = Looks(lab=(lightness, 4.0, 19.0), ring_mm=3.0, figure="straight")
        lot.save_board(replace(ash_board(), id=name, looks=looks), new_stamp(lot, "test"))
    assert [line.id for line in alike_in_lot(lot, "B01")] == ["B03", "B02"]
    lot.close()


def test_a_set_and_a_spoiled_part_are_told_the_likest_other_board(tmp_path):
    lot = open_lot(tmp_path / "ash.lot")
    for name, lightness in (("B01", 70.0), ("B02", 80.0), ("B03", 71.0)):
        looks = Looks(lab=(lightness, 4.0, 19.0), ring_mm=3.0, figure="straight")
        lot.save_board(replace(ash_board(), id=name, looks=looks), new_stamp(lot, "test"))
    head = "name,quantity,length,width,thickness,faces,match\n"
    set_parts(lot, head + "door,2,300,60,19,show,doors:bookmatch\n", "parts.csv")
    placed = replace(small_layout().placements[0], part="door", copy=1, board="B01")
    lot.save_layout(replace(small_layout(), placements=(placed,)), lot.revision)
    (of_set,) = second_board_words(lot)
    assert "set doors comes out of B01" in of_set and of_set.index("B03") < of_set.index("B02")
    tick(lot, new_stamp(lot, "test"), ("door", 1), "B01", (placed.x_mm, placed.y_mm), "spoiled")
    (of_part,) = second_board_words(lot, with_sets=False)
    assert "door 1 was spoiled on B01" in of_part and "B03 (very like" in of_part
    lot.close()
