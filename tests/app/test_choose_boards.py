"""The errand "which boards to take" as a person calls it."""

import pytest

from tests.command import run

BOARDS = """id,thickness,length,width,species,price
A,4/4,3 m,200 mm,white ash,60
B,4/4,1.7 m,180 mm,white ash,20
C,4/4,1.5 m,120 mm,white ash,{price}
"""
PARTS = """name,quantity,length,width,thickness,faces
rail,2,600 mm,90 mm,19 mm,both
seat,1,1500 mm,150 mm,19 mm,both
"""


@pytest.mark.slow
def test_the_command_says_what_to_take_and_what_it_costs(tmp_path, capsys, monkeypatch):
    (tmp_path / "boards.csv").write_text(BOARDS.format(price=11))
    (tmp_path / "parts.csv").write_text(PARTS)
    ran = run(
        capsys, monkeypatch, "choose", tmp_path / "parts.csv", tmp_path / "boards.csv",
        "--surcharge", 20,
    )  # fmt: skip
    assert ran.status == 0
    assert "picked by hand at 20 % more they cost 37.20; taken as they come" in ran.out
    assert "take B, C: 31.00 of 91.00, 3 of 3 parts placed" in ran.out
    assert "B (20.00): without it 1 × seat would be lost" in ran.out
    assert "not proven to be the cheapest" in ran.out


def test_a_budget_without_prices_is_one_sentence(tmp_path, capsys, monkeypatch):
    (tmp_path / "boards.csv").write_text(BOARDS.format(price=""))
    (tmp_path / "parts.csv").write_text(PARTS)
    ran = run(
        capsys, monkeypatch, "choose", tmp_path / "parts.csv", tmp_path / "boards.csv",
        "--budget", 50,
    )  # fmt: skip
    assert ran.status == 2
    assert "C has no price" in ran.sentence


@pytest.mark.slow
def test_a_budget_holds_with_prices_by_the_board_foot_too(tmp_path, capsys, monkeypatch):
    (tmp_path / "boards.csv").write_text(BOARDS.format(price=""))
    (tmp_path / "parts.csv").write_text(PARTS)
    (tmp_path / "shop.toml").write_text('[price_per_board_foot]\n"white ash" = 5\n')
    ran = run(
        capsys, monkeypatch, "choose", tmp_path / "parts.csv", tmp_path / "boards.csv",
        "--budget", 50, "--shop", tmp_path / "shop.toml",
    )  # fmt: skip
    assert ran.status == 0
    # C: 120 mm x 1500 mm is 4.72 in x 4 ft / 12 = 1.57, so 2 board feet.
    assert "take B, C: 30.00 of 90.00" in ran.out
