"""How much more an end may lose, worked out by hand."""

from dataclasses import replace

import pytest

from scanner.placement.ground.end_room import end_rooms
from scanner.placement.layout import Placement
from scanner.placement.shop import Shop
from scanner.placement.validator.ground import ground_objections
from tests import common


def _rooms(board, *placements):
    return {room.end: room for room in end_rooms(board, placements, Shop())}


def test_the_nearest_part_says_what_an_end_may_still_lose():
    board = common.plain_board(length_mm=1000.0, width_mm=200.0)
    near = Placement("rail", 1, "P01", 60, 10, 300, 60)
    far = Placement("slat", 1, "P01", 400, 10, 450, 60)
    rooms = _rooms(board, far, near)
    # A seen end loses 12 mm already, and the outline is known to 1 mm.
    assert (rooms["A"].more_mm, rooms["A"].part) == (pytest.approx(47), near)
    assert (rooms["B"].more_mm, rooms["B"].part) == (pytest.approx(137), far)


def test_an_end_out_of_square_is_measured_along_the_rows_of_the_part():
    # End B of the ash board runs from 2462 (face 1, y = 8) to 2458 (y = 178).
    board = common.ash_board(looked_over=True)
    placed = Placement("rail", 1, "B01", 1500, 20, 600, 60)
    room = _rooms(board, placed)["B"]
    at_its_rows = 2461 - (80 - 8) / (150 - 8) * 3  # face 2 ends sooner
    assert room.more_mm == pytest.approx(at_its_rows - 2100 - 12 - 1, abs=0.2)


def test_a_board_without_parts_has_no_room_to_tell():
    assert end_rooms(common.plain_board(), (), Shop()) == ()


def test_the_end_may_lose_that_much_and_the_validator_agrees():
    board = common.ash_board(looked_over=True)
    part = common.bench_parts()[3]
    placed = Placement("cleat", 1, "B01", 250, 70, 275, 52)
    more = _rooms(board, placed)["A"].more_mm
    for extra, is_lost in ((-1.0, False), (board.outline_u_mm + 3.0, True)):
        trim = Shop().end_trim_seen_mm + more + extra
        cut_back = replace(board, ends={**board.ends, "A": replace(board.ends["A"], trim_mm=trim)})
        wrong = [w for w in ground_objections(placed, part, cut_back, Shop()) if "end A" in w.words]
        assert bool(wrong) is is_lost, extra
