"""The errand "movement" as a person calls it."""

import pytest

from scanner.app.buying.wood_movement import movement_lines
from tests.command import run


def test_the_handbook_s_red_oak_top_moves_as_worked_out(capsys, monkeypatch):
    # SH-2 (Wood Handbook FPL-GTR-190, Table 13-5, worked by hand: 0.221 and 0.0948 in).
    ran = run(
        capsys, monkeypatch, "movement", "12", "--species", "red oak", "--from", 6, "--to", 11,
        "--units", "inch",
    )  # fmt: skip
    assert ran.status == 0
    assert "flatsawn: 12 in grows by 0.221 in" in ran.out
    assert "quartersawn: 12 in grows by 0.095 in" in ran.out


@pytest.mark.parametrize(
    ("width", "species", "words"),
    [
        ("wide", "walnut", "no length"),
        ("0", "walnut", "no width of a part"),
        ("0 in", "walnut", "no width of a part"),
        ("99999 m", "walnut", "no width of a part"),
        ("12in", "plastic", "no table has the movement"),
    ],
)
def test_bad_input_is_one_sentence(capsys, monkeypatch, width, species, words):
    ran = run(capsys, monkeypatch, "movement", width, "--species", species, "--from", 6, "--to", 11)
    assert ran.status == 2
    assert words in ran.sentence


@pytest.mark.parametrize(
    ("width", "units", "says"),
    [
        ("12in", "mm", "flatsawn: 12 in grows by 0.221 in"),
        ("1 ft", "mm", "flatsawn: 12 in grows by 0.221 in"),
        ('12"', "mm", "flatsawn: 12 in grows by 0.221 in"),
        ("30 cm", "inch", "flatsawn: 300 mm grows by 5.5 mm"),
        ("300", "mm", "flatsawn: 300 mm grows by 5.5 mm"),
    ],
)
def test_the_answer_comes_in_the_unit_that_was_asked_in(width, units, says):
    assert says in movement_lines(width, "red oak", 6, 11, units)[1]
