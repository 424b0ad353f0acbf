"""The errand "which boards to take" as a person calls it."""

from dataclasses import replace

import pytest

from scanner.app.buying.choose_boards import choose_in_lot, kept_choice
from scanner.app.lot.open_lot import new_stamp
from scanner.storage.ticks import Ticks
from tests import common
from tests.app.placed_lot import PLACED
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
    assert "NOT LOOKED OVER: B, C. Possible flaws" in ran.out


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


@pytest.mark.slow
def test_what_is_cut_counts_as_placed_and_its_board_is_not_bought_again(placed_lot):
    lot = placed_lot
    lot.save_board(common.plain_board("P02", 1400.0, 120.0), new_stamp(lot))
    cut = tuple(replace(p, state="cut") for p in PLACED[:2])
    lot.tick(new_stamp(lot), "cut", lambda *_: Ticks(cut))
    choose_in_lot(lot, "", lambda step, share: None)
    first, second, *_ = kept_choice(lot)
    assert first == "take no further board: 5 of 5 parts placed on what is begun"
    assert second.startswith("P01 is begun: what is cut there stays and counts as placed")
    # Another tick, another answer.
    lot.tick(new_stamp(lot), "more", lambda *_: Ticks(cut[:1]))
    assert kept_choice(lot) == ()
