"""What a lot costs, and what each part costs with its share of the waste."""

from dataclasses import replace

import pytest

from scanner.lot.money import amount_text, board_prices, money_lines, money_of
from scanner.placement.shop import FootPrice, Shop
from tests.common import bench_parts, plain_board, shelf_parts, small_layout

ASH = FootPrice("white ash", None, 6.0)
THICK_ASH = FootPrice("white ash", 8, 9.0)


def test_a_board_costs_its_board_feet_times_the_price_of_its_thickness():
    # 8 in x 8 ft in 4/4 is 5.33, so 5 board feet; the same in 8/4 is 10 (NHLA rules for tallying).
    thin = plain_board("P01")
    thick = plain_board("P02", thickness_mm=52.4)
    assert board_prices([thin, thick], [ASH, THICK_ASH]) == {"P01": 30.0, "P02": 90.0}


def test_the_price_asked_for_a_board_wins_over_the_price_of_the_foot():
    assert board_prices([replace(plain_board(), price=21.5)], [ASH]) == {"P01": 21.5}


def test_a_board_of_unknown_price_is_named_and_never_free():
    money = money_of(
        [plain_board("P01"), plain_board("P02", species="walnut")],
        Shop(foot_prices=(ASH,), currency="EUR"),
    )
    assert money is not None
    assert money.lot == 30.0
    assert money.unpriced == ("P02",)
    assert money_lines(money) == (
        "the boards cost 30.00 EUR",
        "no price is known for P02: not counted",
    )


def test_without_any_price_money_is_not_spoken_of():
    assert money_of([plain_board()], Shop()) is None


def test_the_parts_of_a_layout_pay_for_their_boards_to_the_last_cent():
    layout, parts = small_layout(), bench_parts() + shelf_parts()
    ids = sorted({p.board for p in layout.placements} | {"Z99"})
    boards = [replace(plain_board(name), price=10.0 * (n + 1)) for n, name in enumerate(ids)]
    money = money_of(boards, Shop(), layout, parts)
    assert money is not None
    assert sum(row.each * row.copies for row in money.parts) == pytest.approx(money.used)
    assert money.used < money.lot  # Z99 was bought and not used
    assert all(0 < row.wood < row.each for row in money.parts)
    assert sum(row.copies for row in money.parts) == len(layout.placements)


def test_two_parts_of_one_size_on_one_board_cost_the_same_and_half_a_board_each():
    layout, parts = small_layout(), bench_parts() + shelf_parts()
    first = layout.placements[0]
    twin = replace(first, copy=first.copy + 50, y_mm=first.y_mm + 300)
    pair = replace(layout, placements=(first, twin))
    money = money_of([replace(plain_board(first.board), price=25.0)], Shop(), pair, parts)
    assert money is not None
    (row,) = money.parts
    assert (row.copies, row.each) == (2, pytest.approx(12.5))


def test_of_a_curved_part_only_its_own_wood_is_called_so():
    layout, parts = small_layout(), bench_parts() + shelf_parts()
    placed = replace(layout, placements=layout.placements[:1])
    part = next(part for part in parts if part.name == placed.placements[0].part)
    long, wide = part.length_mm, part.width_mm
    half = replace(part, outline_mm=((0, 0), (long, 0), (0, wide)))
    board = replace(plain_board(placed.placements[0].board), price=25.0)
    (square,), (curved,) = (money_of([board], Shop(), placed, (row,)).parts for row in (part, half))
    assert curved.each == square.each == pytest.approx(25.0)
    assert curved.wood == pytest.approx(square.wood / 2)


def test_a_sign_stands_before_an_amount_and_letters_after_it():
    assert amount_text(12.345, "$") == "$12.35"
    assert amount_text(12.0, "EUR") == "12.00 EUR"
    assert amount_text(12.0, "") == "12.00"


def test_what_is_more_and_what_is_less_is_said_before_the_sign():
    said = [amount_text(amount, "$", signed=True) for amount in (3.2, -3.2, -0.001)]
    assert said == ["+$3.20", "-$3.20", "+$0.00"]
    assert amount_text(-3.2, "EUR", signed=True) == "-3.20 EUR"
