"""The layout that the sheet tests draw is one that the independent validator lets pass."""

from scanner.placement.shop import Shop
from scanner.placement.validator.judge import validate_layout
from tests.common import ash_board, bench_parts, shelf_parts, small_layout, walnut_board


def test_the_hand_made_layout_is_a_sound_one():
    parts = bench_parts() + shelf_parts()
    boards = (ash_board(), walnut_board())
    # Its brackets are cut out of a piece of 245 mm: drawn for machines that take so short a one.
    shop = Shop(shortest_piece_mm=245.0)
    assert list(validate_layout(small_layout(), boards, parts, shop)) == []
