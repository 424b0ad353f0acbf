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
    assert "white ash 4/4: the parts hold" in ran.out
    assert "board feet of FAS for a 90 % chance that all fits" in ran.out
    assert "rule of thumb, 15 % to 20 % extra" in ran.out
    assert np.asarray(Image.open(picture).convert("L")).std() > 5
    again = run(capsys, monkeypatch, "buy", parts, "--trials", 12, "--grade", "FAS")
    assert again.out.splitlines() == ran.out.splitlines()[: len(again.out.splitlines())]


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
