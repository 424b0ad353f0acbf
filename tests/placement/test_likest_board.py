"""A second board for a matched set, and for its spoiled part, goes by what boards look like."""

from dataclasses import replace

from scanner.board.looks import Looks
from scanner.placement.said.reasons_sets import divided_sets
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, part


def looking(name, length, lightness):
    looks = None if lightness is None else Looks(lab=(lightness, 4, 19), ring_mm=3.0)
    return replace(board(name, length, 64), looks=looks)


DOORS = (replace(part("door", 2, 590, 60), match="doors"),)


def boards_of(layout):
    return {p.board for p in layout.placements}


def test_a_set_over_two_boards_takes_the_two_that_look_most_alike():
    boards = (looking("B1", 650, 60), looking("B2", 650, 75), looking("B3", 650, 61))
    layout = solve(boards, DOORS, SHOP, Work(20))
    assert boards_of(layout) == {"B1", "B3"}
    assert validate_layout(layout, boards, DOORS, SHOP) == ()


def test_a_spoiled_part_is_made_again_from_the_likest_board_that_has_room():
    boards = (looking("B1", 1300, 70), looking("B2", 2000, 80), looking("B3", 2000, 71))
    first = solve((boards[0],), DOORS, SHOP, Work(20))
    one, other = first.placements
    kept = replace(first, placements=(replace(one, state="cut"), replace(other, state="spoiled")))
    # What was spoiled takes its place with it.
    short = replace(boards[0], only_parts=("nothing else",))
    again = solve((short, *boards[1:]), DOORS, SHOP, Work(20), keep=kept)
    assert [p.board for p in again.placements if p.state == "planned"] == ["B3"]


def test_boards_of_unknown_looks_are_taken_as_they_come():
    boards = (looking("B1", 650, None), looking("B2", 650, None))
    assert boards_of(solve(boards, DOORS, SHOP, Work(20))) == {"B1", "B2"}


def test_a_set_on_two_boards_says_how_alike_they_look():
    boards = (looking("B1", 650, 60), looking("B2", 650, 61))
    placed = solve(boards, DOORS, SHOP, Work(20)).placements
    (said,) = divided_sets(DOORS, placed, SHOP, boards)
    assert "look very like as rough boards" in said
    (said,) = divided_sets(DOORS, placed, SHOP, tuple(replace(b, looks=None) for b in boards))
    assert "rough boards" not in said
