"""Matched sets: one board, all or none, beside each other, in order; the validator judges alone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from shapely.geometry import box

from scanner.board.flaw import FlawKind
from scanner.errors import PlacementError
from scanner.placement.said.reasons_sets import divided_sets
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import (
    FOUR_ON_TWO_ALIKE,
    FRONTS_IN_ORDER,
    SHOP,
    THREE_OR_NONE,
    TWO_DOORS,
    board,
    flaw,
    part,
)
from tests.placement.lots import lots_of_sets


def test_a_set_that_fits_nowhere_says_how_many_would_fit():
    one = THREE_OR_NONE
    (unplaced,) = solve(one.boards, one.parts, one.shop, Work(20)).unplaced
    assert unplaced.copies == 3
    assert unplaced.reason.startswith(
        "no board has room for all 3 parts of the set doors next to each other (590 x 188"
    )
    assert unplaced.nearest == "B1 could hold 2 of the 3"


def test_a_set_on_two_boards_is_said_and_a_whole_one_is_not():
    one = FOUR_ON_TWO_ALIKE
    layout = solve(one.boards, one.parts, one.shop, Work(20))
    (said,) = divided_sets(one.parts, layout.placements, SHOP)
    assert "it comes from B1 and B2" in said
    one = TWO_DOORS
    layout = solve(one.boards, one.parts, one.shop, Work(20))
    assert divided_sets(one.parts, layout.placements, SHOP) == ()


def test_solver_and_validator_agree_that_a_space_makes_no_other_species():
    one = FOUR_ON_TWO_ALIKE
    boards = (replace(one.boards[0], species=f"{one.boards[1].species.upper()} "), one.boards[1])
    layout = solve(boards, one.parts, one.shop, Work(20))
    assert {p.board for p in layout.placements} == {"B1", "B2"}
    assert validate_layout(layout, boards, one.parts, one.shop) == ()


def test_the_validator_condemns_half_a_set():
    one = TWO_DOORS
    layout = solve(one.boards, one.parts, one.shop, Work(20))
    half = replace(layout, placements=layout.placements[:1])
    assert any(
        "not all or none" in str(o) for o in validate_layout(half, one.boards, one.parts, SHOP)
    )


def test_the_validator_condemns_members_that_lie_apart():
    boards = (board("B1", 600, 220),)
    parts = (replace(part("door", 3, 590, 60), match="doors"),)
    layout = solve(boards, parts, SHOP, Work(20))
    a, b, c = layout.placements
    apart = replace(layout, placements=(a, replace(b, y_mm=70.0), replace(c, y_mm=140.0)))
    said = validate_layout(apart, boards, parts, SHOP)
    assert any("do not lie beside each other" in str(o) for o in said)


def test_the_validator_condemns_fronts_out_of_order():
    one = FRONTS_IN_ORDER
    layout = solve(one.boards, one.parts, one.shop, Work(20))
    a, b, c = layout.placements
    swapped = replace(layout, placements=(replace(a, copy=2), replace(b, copy=1), c))
    said = validate_layout(swapped, one.boards, one.parts, SHOP)
    assert any("not in order along the grain" in str(o) for o in said)


def test_the_rest_of_a_set_goes_on_where_a_cut_member_lies():
    boards = (board("B1", 1300, 64), board("B2", 2000, 64))
    parts = (replace(part("door", 2, 590, 60), match="doors"),)
    layout = solve((boards[0],), parts, SHOP, Work(20))
    cut = replace(layout, placements=(replace(layout.placements[0], state="cut"),))
    again = solve(boards, parts, SHOP, Work(20), keep=cut)
    assert [p.board for p in again.placements] == ["B1", "B1"]
    assert validate_layout(again, boards, parts, SHOP) == ()


def test_a_set_over_rows_of_two_sizes_lies_side_by_side():
    boards = (board("B1", 700, 130), board("B2", 600, 200))
    parts = (
        replace(part("stile", 2, 590, 40), match="door"),
        replace(part("rail", 1, 300, 60), match="door"),
    )
    layout = solve(boards, parts, SHOP, Work(20))
    assert {p.board for p in layout.placements} == {"B2"}
    assert validate_layout(layout, boards, parts, SHOP) == ()


def test_a_set_in_two_manners_is_refused():
    parts = (
        replace(part("a", 2, 100, 40), match="door"),
        replace(part("b", 2, 100, 40), match="door:in_order"),
    )
    with pytest.raises(
        PlacementError, match="next to each other and also in order along the grain"
    ):
        solve((board("B1", 700, 130),), parts, SHOP, Work(5))


def test_a_spare_lies_next_to_its_set_where_that_costs_nothing():
    boards = (board("B1", 600, 64), board("B2", 600, 200))
    parts = (replace(part("door", 2, 590, 60), match="doors", spares=1),)
    layout = solve(boards, parts, SHOP, Work(20))
    assert [(p.board, p.copy) for p in layout.placements] == [("B2", 1), ("B2", 2), ("B2", 3)]
    assert validate_layout(layout, boards, parts, SHOP) == ()


def test_a_spare_takes_no_place_of_another_part():
    boards = (board("B1", 600, 64), board("B2", 600, 200))
    parts = (
        replace(part("door", 2, 590, 60), match="doors", spares=1),
        part("shelf", 1, 590, 66),
    )
    layout = solve(boards, parts, SHOP, Work(20))
    assert {(p.part, p.board) for p in layout.placements} >= {("shelf", "B2"), ("door", "B2")}
    assert all(row.reason.startswith("spare:") for row in layout.unplaced)
    assert validate_layout(layout, boards, parts, SHOP) == ()


def test_straight_grain_keeps_clear_of_a_sound_knot_as_well():
    """The grain turns round a knot: a sound part takes it, one with a slope limit does not."""
    knot = flaw("F1", FlawKind.KNOT, box(450, 40, 480, 60), sound=True)
    boards = (board("B1", 1000, 100, knot),)
    plain = part("leg", 1, 900, 100, "sound")
    limited = replace(plain, straight_grain="1in15")
    assert solve(boards, (plain,), SHOP, Work(10)).summary.placed == 1
    layout = solve(boards, (limited,), SHOP, Work(10))
    assert layout.summary.placed == 0
    laid = solve(boards, (plain,), SHOP, Work(10))
    said = validate_layout(laid, boards, (limited,), SHOP)
    assert any("too near to knot F1" in str(o) for o in said)


def test_a_set_in_two_places_of_one_board_is_said():
    knot = flaw("F1", FlawKind.KNOT, box(600, 0, 700, 130))
    boards = (board("B1", 1300, 130, knot),)
    parts = (replace(part("door", 4, 590, 60), match="doors"),)
    layout = solve(boards, parts, SHOP, Work(20))
    assert validate_layout(layout, boards, parts, SHOP) == ()
    (said,) = divided_sets(parts, layout.placements, SHOP)
    assert said.startswith("The set doors has no single place")
    assert "B1" in said


def _in_order(name: str, quantity: int, length: float, width: float, spares: int = 0):
    return replace(part(name, quantity, length, width), match="fronts:in_order", spares=spares)


def test_a_set_in_order_keeps_its_order_in_two_places_of_one_board():
    """A knot leaves no place for all: what comes later in the list lies nearer to end B."""
    knot = flaw("F1", FlawKind.KNOT, box(640, 0, 700, 130))
    boards = (board("B1", 1300, 130, knot),)
    parts = (_in_order("wide", 1, 590, 50), _in_order("narrow", 2, 290, 40))
    for listed in (parts, parts[::-1]):
        layout = solve(boards, listed, SHOP, Work(20))
        assert layout.summary.placed == 3
        assert validate_layout(layout, boards, listed, SHOP) == ()


def test_a_set_in_order_on_two_boards_is_in_order_on_each():
    boards = (board("B1", 700, 130), board("B2", 700, 130))
    parts = (_in_order("wide", 1, 590, 50), _in_order("narrow", 2, 290, 40))
    layout = solve(boards, parts, SHOP, Work(20))
    assert layout.summary.placed == 3
    assert {p.board for p in layout.placements if p.part == "narrow"} != {
        p.board for p in layout.placements if p.part == "wide"
    }
    assert validate_layout(layout, boards, parts, SHOP) == ()


@pytest.mark.parametrize("spare_of", [0, 1])
def test_a_spare_never_breaks_the_order_of_its_set(spare_of):
    """Where the spare fits into no strip of the set it lies in order on its board, or nowhere."""
    boards = (board("B1", 1000, 60), board("B2", 700, 60))
    parts = tuple(
        _in_order(name, quantity, 290, 60, spares=n == spare_of)
        for n, (name, quantity) in enumerate((("first", 1), ("later", 3)))
    )
    layout = solve(boards, parts, SHOP, Work(20))
    assert all(row.reason.startswith("spare:") for row in layout.unplaced)
    assert validate_layout(layout, boards, parts, SHOP) == ()


def test_the_spare_of_a_row_in_order_may_come_before_the_others():
    """Copies are numbered along the grain, so a spare towards end A is the first of its row."""
    boards = (board("B1", 700, 60), board("B2", 700, 60))
    parts = (_in_order("front", 3, 290, 60, spares=1),)
    layout = solve(boards, parts, SHOP, Work(20))
    assert layout.summary.placed == 4
    assert validate_layout(layout, boards, parts, SHOP) == ()


@pytest.mark.slow
@settings(max_examples=40, deadline=None, derandomize=True)
@given(lots_of_sets())
def test_sets_and_their_spares_pass_the_validator_on_any_boards(lot):
    boards, parts = lot
    layout = solve(boards, parts, SHOP, Work(12))
    assert validate_layout(layout, boards, parts, SHOP) == ()


def test_spares_leave_no_other_part_between_the_members_of_a_set():
    knot = flaw("F1", FlawKind.KNOT, box(662.3002314716944, 87.2585, 692.3002314716944, 107.2585))
    boards = (board("B0", 947.6288559825393, 190.6650860270162, knot),)
    parts = (
        replace(
            part("door", 2, 466.8724449179925, 59.67440452453056, "sound"),
            match="doors",
            spares=2,
            priority=2.0,
        ),
        replace(part("cleat", 1, 224.37287988688806, 32.58933969), spares=3, priority=2.0),
        replace(
            part("front", 2, 427.68210917174, 77.9025356623, "sound"), match="fronts", spares=3
        ),
    )
    layout = solve(boards, parts, SHOP, Work(12))
    assert validate_layout(layout, boards, parts, SHOP) == ()


def test_a_spare_that_would_break_its_set_gives_its_wood_to_a_filler():
    """Behind the knot is room for one part more: a spare of "first" would lie after "later".

    0      290        584        878       1172  ####  1194          1500
    | first |  later  |  later   |  later   |    ####  | spare? peg! |
    """
    knot = flaw("F1", FlawKind.KNOT, box(1174, 0, 1190, 60))
    boards = (board("B1", 1500, 60, knot),)
    parts = (
        _in_order("first", 1, 290, 60, spares=1),
        _in_order("later", 3, 290, 60),
        replace(part("peg", 1, 280, 60), filler=True),
    )
    layout = solve(boards, parts, SHOP, Work(20))
    assert sorted(p.part for p in layout.placements) == ["first", "later", "later", "later", "peg"]
    assert validate_layout(layout, boards, parts, SHOP) == ()
