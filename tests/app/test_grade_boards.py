"""The errand "grade" on boards as files."""

import pytest
from PIL import Image

from scanner.app.buying import grade_boards
from scanner.files.board_file import board_json
from scanner.lot.grade import estimate_grade
from scanner.sheets.grade_picture import draw_grade
from tests.command import run
from tests.common import ash_board, flat_picture, walnut_board
from tests.sheets.golden import differing_share


@pytest.fixture
def files(tmp_path):
    paths = []
    for board in (ash_board(), walnut_board()):
        path = tmp_path / board.id / "board.json"
        path.parent.mkdir()
        path.write_text(board_json(board))
        paths.append(path)
    return paths


@pytest.mark.slow
def test_the_command_estimates_each_board_and_says_it_is_no_inspection(
    files, tmp_path, capsys, monkeypatch
):
    ran = run(capsys, monkeypatch, "grade", *files, "-o", tmp_path / "grades")
    assert ran.status == 0
    lines = ran.out.splitlines()
    ours = [line for line in lines if line.startswith(("B01  ", "B02  "))]
    for board, line in zip((ash_board(), walnut_board()), ours, strict=True):
        assert str(estimate_grade(board).grade) in line
        assert ("NOT LOOKED OVER" in line) is not board.is_looked_over
    assert any("no inspection" in line for line in lines)
    written = sorted(path.name for path in (tmp_path / "grades").iterdir())
    assert written == ["B01-grade.png", "B02-grade.png"]


@pytest.mark.slow
@pytest.mark.parametrize("said", [(), ("--units", "mm")])
def test_the_pictures_scale_is_in_the_units_of_the_shop(files, said, tmp_path, capsys, monkeypatch):
    """An inch shop's pictures had their scale in mm; --units is for bare numbers of lists."""
    drawn = []

    def drawing(board, estimate, pictures, units):
        drawn.append(units)
        return Image.new("RGB", (4, 4))

    monkeypatch.setattr(grade_boards, "draw_grade", drawing)
    (tmp_path / "shop.toml").write_text('units = "inch"\n')
    shop = ("--shop", tmp_path / "shop.toml")
    ran = run(capsys, monkeypatch, "grade", files[0], "-o", tmp_path / "g", *shop, *said)
    assert ran.status == 0 and drawn == ["inch"]
    assert run(capsys, monkeypatch, "grade", files[0], "-o", tmp_path / "g").status == 0
    assert drawn == ["inch", "mm"]


def test_a_missing_board_is_one_sentence(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "grade", tmp_path / "none.json")
    assert ran.status == 2
    assert "none.json" in ran.sentence


@pytest.mark.slow
def test_the_picture_shows_the_cuttings_and_the_flaws():
    board = ash_board()
    pictures = {face: flat_picture(board, face) for face in (1, 2)}
    estimate = estimate_grade(board)
    drawn = draw_grade(board, estimate, pictures)
    clear = draw_grade(board.with_flaws(()), estimate, pictures)
    assert differing_share(drawn, clear) > 0.0005
    other = estimate_grade(board.with_flaws(()))
    assert differing_share(clear, draw_grade(board.with_flaws(()), other, pictures)) > 0.001
