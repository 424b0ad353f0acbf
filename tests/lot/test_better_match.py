"""What it takes in wood to cut a group side by side from one board."""

from dataclasses import replace

from scanner.lot.better_match import match_price
from scanner.lot.groups import groups_of
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.validator.judge import validate_layout
from tests.common import plain_board
from tests.lot.laid import layout_of

SHOP = Shop()
DOOR = Part("door", 2, 400.0, 60.0, 19.0, Faces.BOTH)


def at(copy, board, x=20.0, y=4.0):
    return Placement("door", copy, board, x, y, 425.0, 72.0, margin_mm=2.0)


def price(boards, placements, parts=(DOOR,)):
    layout = layout_of(*placements)
    (group,) = groups_of(layout, boards, parts, SHOP)
    return match_price(layout, boards, parts, SHOP, group, 4)


def test_a_group_of_two_boards_is_offered_from_one():
    boards = (plain_board("P01", 1000.0, 80.0), plain_board("P02", 1000.0, 80.0))
    found = price(boards, [at(1, "P01"), at(2, "P02")])
    assert found.layout is not None
    assert len({p.board for p in found.layout.placements}) == 1
    matched = (replace(DOOR, match="door:beside"),)
    assert validate_layout(found.layout, boards, matched, SHOP) == ()


def test_where_no_board_holds_all_it_says_so():
    boards = (plain_board("P01", 480.0, 80.0), plain_board("P02", 480.0, 80.0))
    found = price(boards, [at(1, "P01"), at(2, "P02")])
    assert found.layout is None and "no one board holds all 2" in found.why


def test_a_group_of_one_board_has_its_match_already():
    boards = (plain_board("P01", 1000.0, 80.0),)
    assert price(boards, [at(1, "P01"), at(2, "P01", x=480.0)]) is None
