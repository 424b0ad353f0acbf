"""The errand "how much to buy" as a person calls it."""

import numpy as np
import pytest
from PIL import Image

from tests.command import run

LIST = """name,quantity,length,width,thickness,faces,species
seat slat,3,900 mm,90 mm,20 mm,both,white ash
"""


@pytest.fixture
def parts(tmp_path):
    path = tmp_path / "parts.csv"
    path.write_text(LIST)
    return path


@pytest.mark.slow
def test_the_command_says_what_to_buy_and_draws_the_chances(parts, tmp_path, capsys, monkeypatch):
    picture = tmp_path / "chances.png"
    ran = run(capsys, monkeypatch, "buy", parts, "--trials", 12, "--grade", "FAS", "-o", picture)
    assert ran.status == 0
    assert "white ash 4/4: buy " in ran.out
    assert "board feet of FAS for a 90 % chance that all fits" in ran.out
    assert "rule of thumb, 15 % to 20 % extra" in ran.out
    assert np.asarray(Image.open(picture).convert("L")).std() > 5
    again = run(capsys, monkeypatch, "buy", parts, "--trials", 12, "--grade", "FAS")
    assert again.out.splitlines() == ran.out.splitlines()[: len(again.out.splitlines())]


@pytest.mark.slow
def test_lots_are_drawn_from_own_boards_when_they_are_given(parts, tmp_path, capsys, monkeypatch):
    table = tmp_path / "boards.csv"
    table.write_text("id,species,length,width,thickness\nB01,white ash,8ft,9in,4/4\n")
    ran = run(capsys, monkeypatch, "buy", parts, table, "--trials", 10)
    assert ran.status == 0
    assert "drawn from 1 of your own boards" in ran.out
    # One clear 8 ft board 9 in wide, 6 board feet, holds three slats, two side by side.
    assert "buy 6 board feet of boards like your own" in ran.out
    assert "seat slat: one strip needs a board 107 mm wide, two 212.2 mm" in ran.out
    both = run(capsys, monkeypatch, "buy", parts, table, "--grade", "FAS")
    assert both.status == 2
    assert "not from both" in both.sentence


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--grade", "prime"), 'the grade "prime" is not known'),
        (("--trials", 3), "3 lots say nothing"),
        (("--units", "cubits"), '"cubits" is neither'),
    ],
)
def test_bad_input_is_one_sentence(parts, capsys, monkeypatch, options, words):
    ran = run(capsys, monkeypatch, "buy", parts, *options)
    assert ran.status == 2
    assert words in ran.sentence
