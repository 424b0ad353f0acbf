"""Where a part moved by hand may lie, held against hand-worked places and the validator."""

import random
from dataclasses import replace

import pytest
from shapely.geometry import Point, box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.placement.ground.may_lie import beside_others, nearest_corner, room_of
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.validator.ground import ground_objections
from tests import common

_SIZE = (300.0, 60.0)


def _part(faces="both", **more):
    return Part("rail", 2, _SIZE[0] - 25, _SIZE[1] - 12, 15.0, Faces(faces), **more)


def _room(board, part, show=None):
    return room_of(board, part, _SIZE, Shop(), show)


def _board():
    return common.plain_board(length_mm=1000.0, width_mm=200.0)


def test_a_clear_board_gives_all_but_its_margins_and_end_trims():
    # Outline U 1.0 and sawing tolerance 1.5: 2.5 mm along the edges; a seen end loses 12 mm, which
    # is more than the margin. The corner of 300 x 60 then has 12..688 by 2.5..137.5.
    clear = _room(_board(), _part()).clear
    assert clear.bounds == pytest.approx((12, 2.5, 688, 137.5), abs=0.2)
    assert clear.area == pytest.approx(676 * 135, rel=2e-3)


def test_a_knot_forbids_the_corners_from_which_the_part_would_reach_it():
    knot = common.ellipse(500, 100, 10, 10)
    flaw = Flaw(
        "F1", FlawKind.KNOT, {1: knot}, None, False, None, FlawState.CONFIRMED, 0.9, "", 1.0
    )
    room = _room(_board().with_flaws((flaw,)), _part())
    assert room.in_the_way(300, 70) == ("knot F1",)
    # Below it there is 90 - 2.5 of wood to the edge, above it as much: room for 60.
    assert room.clear.covers(Point(300, 20))
    assert not room.clear.covers(Point(300, 40))
    assert nearest_corner(room.clear, 300, 30, 20) == pytest.approx((300, 27.5), abs=0.2)
    assert nearest_corner(room.clear, 300, 60, 5) is None


def test_beside_another_part_a_kerf_is_kept():
    other = Placement("slat", 1, "P01", 100, 10, 300, 60)
    kerf = Shop().kerf_mm
    room = _room(_board(), _part())
    clear = beside_others(room, [other], kerf)
    at = nearest_corner(clear, 100, 65, 50)
    assert at == pytest.approx((100, 70 + kerf), abs=0.2)
    elsewhere = replace(other, board="P02")
    assert beside_others(room, [elsewhere], kerf).equals(room.clear)


def test_a_board_that_is_ruled_out_gives_no_place_and_says_why():
    room = _room(_board(), _part(not_boards=("P01",)))
    assert room.refusal == "is ruled out for this part" and room.clear.is_empty


def _objects(board, part, show, x, y):
    placed = Placement("rail", 1, board.id, x, y, *_SIZE, show_face=show)
    return list(ground_objections(placed, part, board, Shop()))


_CASES = [("both", None), ("show", 1), ("show", 2), ("sound", None), ("hidden", None)]


def test_a_hidden_part_moved_by_hand_takes_wane_on_one_edge_and_not_on_both():
    # 68 mm from arris to arris with 6 mm of wane on either: 60 mm fit beside one of them.
    low, high = (
        Flaw(id, FlawKind.WANE, {1: shape}, None, False, None, FlawState.CONFIRMED, 0.9, "", 0.5)
        for id, shape in (("F1", box(0, 0, 1000, 6)), ("F2", box(0, 62, 1000, 68)))
    )
    plain = common.plain_board(length_mm=1000.0, width_mm=68.0)
    hidden = _part("hidden")
    both = _room(plain.with_flaws((low, high)), hidden)
    assert both.clear.is_empty
    assert "wane on both long edges" in both.in_the_way(300, 4)
    for one in (low, high):
        assert _room(plain.with_flaws((one,)), hidden).clear.covers(Point(300, 4))
    wide = common.plain_board(length_mm=1000.0, width_mm=72.0)
    high = replace(high, outlines={1: box(0, 66, 1000, 72)})
    board = wide.with_flaws((low, high))
    clear = _room(board, hidden).clear
    for y, is_clear in ((2.6, True), (3.9, True), (5.0, False), (8.1, True), (9.4, True)):
        assert clear.covers(Point(300, y)) is is_clear, y
        assert (_objects(board, hidden, None, 300, y) == []) is is_clear, y


@pytest.mark.parametrize(("faces", "show"), _CASES)
@pytest.mark.parametrize("seen", [pytest.param(False, marks=pytest.mark.slow), True])
def test_the_validator_agrees_on_a_board_with_flaws_wane_and_ends_out_of_square(faces, show, seen):
    board, part = common.ash_board(looked_over=seen), _part(faces)
    room = _room(board, part, show)
    edge = room.clear.boundary
    dice = random.Random(7)
    inside = outside = 0
    while inside < 25 or outside < 25:
        x, y = dice.uniform(-20, 2300), dice.uniform(-10, 160)
        if room.clear.covers(Point(x, y)):
            inside += 1
            assert _objects(board, part, show, x, y) == [], (x, y)
        # Margins are rounded up and corners mitred: nearer to the limit the two may differ.
        elif edge.distance(Point(x, y)) > 4.0:
            outside += 1
            assert _objects(board, part, show, x, y), (x, y)
            assert room.in_the_way(x, y) or x < 0 or y < 0
    assert inside and outside
