"""A lot without photographs goes through the commands like any other."""

import json
from dataclasses import replace

import pytest

from scanner.app.lot.foot_prices import cost_lines, foot_prices_text, read_amount, set_foot_prices
from scanner.app.lot.open_lot import new_stamp
from scanner.app.lot.typed_boards import (
    boards_list_of,
    flaw_like,
    take_typed_board,
    take_typed_boards,
)
from scanner.errors import BoardError, ScannerError
from scanner.placement.shop import FootPrice
from scanner.storage.lots import Lot
from tests.command import run

BOARDS = """id,thickness,length,width,species,flaws,looked_over
B01,4/4,8 ft,7 1/4 in,white ash,knot both 40 in to 42 in by 2 in to 4 in,yes
B02,4/4,6 ft,5 in,white ash,,yes
"""
PARTS = """name,quantity,length,width,thickness,faces
bench leg,4,430 mm,70 mm,20 mm,both
"""


@pytest.mark.slow
def test_typed_boards_are_tallied_placed_and_graded(tmp_path, capsys, monkeypatch):
    boards, parts = tmp_path / "boards.csv", tmp_path / "parts.csv"
    boards.write_text(BOARDS)
    parts.write_text(PARTS)
    ran = run(capsys, monkeypatch, "tally", boards, "-o", tmp_path / "out.csv", "--parts", parts)
    assert ran.status == 0
    # 7 1/4 x 8 / 12 = 4.83, 5 x 6 / 12 = 2.5: five and, the first exact half, three.
    assert "2 boards, surface measure 8, 8 board feet" in ran.out
    assert "bench leg (20 mm thick): 4/4 where it is flat; 2 of 2 boards give it" in ran.out
    assert "not a promise of clear wood" in ran.out
    assert (tmp_path / "out.csv").read_text().count("\n") == 3
    ran = run(
        capsys, monkeypatch, "place", parts, tmp_path / "out.csv", "--work", 20, "-o",
        tmp_path / "layout",
    )  # fmt: skip
    assert ran.status == 0
    layout = json.loads((tmp_path / "layout" / "layout.json").read_text())
    assert layout["summary"]["placed"] == 4
    ran = run(capsys, monkeypatch, "grade", boards)
    assert ran.status == 0
    assert "B02  " in ran.out


def test_sizes_are_said_as_an_export_bundle_has_them_where_asked(tmp_path, capsys, monkeypatch):
    boards = tmp_path / "boards.csv"
    boards.write_text("id,thickness,length,width,species\nB1,4/4,8 1/2 ft,5 1/4 in,white ash\n")
    assert "export bundle" not in run(capsys, monkeypatch, "tally", boards).out
    said = run(capsys, monkeypatch, "tally", boards, "--bundle").out
    assert "as an export bundle is tallied: B1 5 in × 8 ft" in said


def test_two_boards_of_one_id_are_refused(tmp_path, capsys, monkeypatch):
    boards = tmp_path / "boards.csv"
    boards.write_text(BOARDS)
    ran = run(capsys, monkeypatch, "tally", boards, boards)
    assert ran.status == 2
    assert "two boards are called B01" in ran.sentence


def test_ids_that_name_the_same_files_elsewhere_are_refused(tmp_path, capsys, monkeypatch):
    """Only capitals differ: B01-map.pdf and b01-map.pdf are one file on many systems."""
    for name, text in (("one.csv", BOARDS), ("other.csv", BOARDS.replace("B0", "b0"))):
        (tmp_path / name).write_text(text)
    ran = run(capsys, monkeypatch, "tally", tmp_path / "one.csv", tmp_path / "other.csv")
    assert ran.status == 2
    assert "two boards are called B01 and b01" in ran.sentence


def test_a_shop_of_inches_is_asked_about_figures_without_a_unit(tmp_path, capsys, monkeypatch):
    """``96`` in a list is millimetres unless --units says otherwise, whatever the sheets speak."""
    boards, shop = tmp_path / "boards.csv", tmp_path / "shop.toml"
    boards.write_text(BOARDS.replace("5 in", "120"))
    shop.write_text('units = "inch"\n')
    tally = ("tally", boards, "--shop", shop)
    assert "are read as mm, though" in run(capsys, monkeypatch, *tally).out
    for units in ("mm", "inch"):
        assert "are read as" not in run(capsys, monkeypatch, *tally, "--units", units).out
    shop.write_text('currency = "EUR"\n')
    assert "are read as" not in run(capsys, monkeypatch, *tally).out


def test_a_lot_takes_no_second_board_of_nearly_the_same_id(empty_lot):
    take_typed_boards(empty_lot, BOARDS)
    with pytest.raises(BoardError, match="a board called B01 already"):
        take_typed_boards(empty_lot, BOARDS.replace("B0", "b0"))


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("price", "abc", 'the board\'s price: "abc" is no amount of money: type it anew'),
        ("price", "1,200", 'the board\'s price: "1,200" may mean 1200 or 1.200: type it anew'),
        ("width", "wide", "the board's width: "),
        ("length", "", "the board's length is missing: fill it in"),
        ("flaws", "big knot", "the board's flaws: \"big knot\" is no flaw: write it like "
         "knot both 300 to 350 by 50 to 75"),
    ],
)  # fmt: skip
def test_a_form_is_told_its_field_and_no_row_of_a_table(empty_lot, field, typed, words):
    cells = {"length": "2440", "width": "180", "thickness": "4/4"} | {field: typed}
    with pytest.raises(BoardError) as problem:
        take_typed_board(empty_lot, cells)
    assert words in str(problem.value)
    assert "row" not in str(problem.value) and "cell" not in str(problem.value)
    assert empty_lot.boards() == ()


def test_an_example_of_a_flaw_can_be_typed_as_it_stands(empty_lot):
    cells = {"length": "2440\u200b", "width": "180", "thickness": "4/4"}
    name = take_typed_board(empty_lot, cells | {"flaws": flaw_like(empty_lot)})
    (flaw,) = empty_lot.board(name).flaws
    assert flaw.outlines[1].bounds == (300.0, 50.0, 350.0, 75.0)


@pytest.mark.slow
@pytest.mark.usefixtures("no_sheets")
def test_prices_in_the_shop_file_give_the_cost_of_lot_and_parts(tmp_path, capsys, monkeypatch):
    boards, parts, shop = (tmp_path / name for name in ("boards.csv", "parts.csv", "shop.toml"))
    boards.write_text(BOARDS)
    parts.write_text(PARTS)
    shop.write_text('currency = "EUR"\n[price_per_board_foot]\n"white ash" = 6\nwalnut = 12\n')
    ran = run(capsys, monkeypatch, "tally", boards, "--shop", shop)
    assert "the boards cost 48.00 EUR" in ran.out  # 8 board feet of white ash at 6
    ran = run(
        capsys, monkeypatch, "place", parts, boards, "--work", 20, "--shop", shop, "-o",
        tmp_path / "layout",
    )  # fmt: skip
    assert "each with its share of the waste" in ran.out


def test_a_lot_takes_a_typed_list_whole_or_not_at_all(tmp_path):
    lot = Lot(tmp_path / "typed.lot")
    assert take_typed_boards(lot, BOARDS, "boards.csv") == ("B01", "B02")
    before = lot.boards()
    # B02 is there: B03 is not kept either.
    with pytest.raises(BoardError, match="a board called B02 already"):
        take_typed_boards(lot, BOARDS.replace("B01", "B03"), "boards.csv")
    assert lot.boards() == before
    # What is taken along reads back as what was typed.
    other = Lot(tmp_path / "other.lot")
    take_typed_boards(other, boards_list_of(lot))
    for one, same in zip(lot.boards(), other.boards(), strict=True):
        assert same.length.value_mm == pytest.approx(one.length.value_mm, abs=0.05)
        assert [flaw.kind for flaw in same.flaws] == [flaw.kind for flaw in one.flaws]


@pytest.mark.parametrize(
    ("typed", "amount"),
    [
        ("38.50", 38.5),
        ("38,50", 38.5),
        ("$6.50", 6.5),
        ("12 €", 12.0),
        ("1200", 1200.0),
        ("1.200,50", 1200.5),
        ("1,200.50 $", 1200.5),
        ("1'200", 1200.0),
        ("1 200,00 €", 1200.0),
        ("1.200.000", 1_200_000.0),
        ("38,50 EUR", 38.5),
        ("CHF 12", 12.0),
        ("0.250", 0.25),
        ("", None),
    ],
)
def test_an_amount_of_money_is_read_as_people_write_it(typed, amount):
    assert read_amount(typed, "budget") == amount


def test_an_amount_with_a_mark_of_thousands_is_refused():
    """1,200 was read as 1.20, and no board was cheap enough."""
    with pytest.raises(BoardError, match=r'budget: "1,200" may mean 1200 or 1\.200: write it like'):
        read_amount("1,200", "budget")
    # So writes whoever reads the other one as 1.2.
    with pytest.raises(
        BoardError, match=r'budget: "1\.200" may mean 1200 or 1\.200: write it like'
    ):
        read_amount("1.200", "budget")


def test_the_price_of_a_board_foot_is_kept_in_a_lot_and_tells_what_it_costs(tmp_path):
    lot = Lot(tmp_path / "priced.lot")
    take_typed_boards(lot, BOARDS, "boards.csv")
    assert cost_lines(lot) == ()
    # What 4125 for a thousand board feet come to.
    set_foot_prices(lot, "white ash = 4.125", "EUR")
    assert [price.price for price in lot.shop().foot_prices] == [4.125]
    # Shown as it is kept: the page keeps what it shows when another price is changed.
    assert foot_prices_text(lot) == "white ash = 4.125"
    set_foot_prices(lot, "white ash = 6\nwalnut 8/4 = 14,5\n", "EUR")
    # 5 and 3 board feet (see above).
    assert cost_lines(lot) == ("the boards cost 48.00 EUR",)
    assert foot_prices_text(lot) == "white ash = 6.00\nwalnut 8/4 = 14.50"
    for text, words in [
        ("white ash", "no price"),
        ("8/4 = 3", "names no species"),
        ("white ash = dear", "no amount of money"),
        ("walnut = 3\nWalnut = 4", "prices Walnut again"),
    ]:
        with pytest.raises(ScannerError, match=words):
            set_foot_prices(lot, text, "EUR")
    assert cost_lines(lot) == ("the boards cost 48.00 EUR",)


@pytest.mark.parametrize("price", [123.456, 1234.567, 1 / 3, 1e-7, 0.1254, 8.25])
def test_any_price_of_a_settings_file_is_shown_so_that_it_can_be_read_back(tmp_path, price):
    """123.456 was refused as what may mean 123456, whatever else was changed on the page."""
    lot = Lot(tmp_path / "priced.lot")
    ash = (FootPrice("white ash", None, price),)
    lot.set_shop(replace(lot.shop(), foot_prices=ash), new_stamp(lot))
    set_foot_prices(lot, foot_prices_text(lot), "GBP")
    assert lot.shop().foot_prices == ash
