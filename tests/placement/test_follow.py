"""Parts turned with the grain, at most 15 degrees, and sawn from an upright blank."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from scanner.board.flaw import FlawKind
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.turned import blank_of, turned_shape
from tests.instances.tiny import SHOP, board, flaw, part
from tests.placement.lots import LOTS


def leg(copies: int = 1, length: float = 500, width: float = 40, faces: str = "both"):
    return replace(part("leg", copies, length, width, faces), straight_grain="follow")


def grained(degrees: float | None, length: float = 1000, width: float = 100, *flaws, id="B1"):
    return replace(board(id, length, width, *flaws), grain_deg=degrees)


def laid(boards, parts, shop=SHOP, keep=None):
    layout = solve(boards, parts, shop, Work(20), keep=keep)
    assert validate_layout(layout, boards, parts, shop) == ()
    return layout


@pytest.mark.parametrize("degrees", [5.0, -5.0, 12.3, -15.0])
def test_a_part_is_turned_as_the_grain_runs(degrees):
    layout = laid((grained(degrees, width=260),), (leg(),))
    (p,) = layout.placements
    assert p.angle_deg == degrees
    assert (p.length_mm, p.width_mm) == (500, 40)
    assert box(0, 0, 1000, 260).buffer(0.01).covers(turned_shape(p))


def test_the_blank_is_the_rectangle_round_the_turned_part():
    """500 x 40 at 5 degrees: 500 cos + 40 sin = 501.6 long, 500 sin + 40 cos = 83.4 wide."""
    long, wide = (
        500 * cos(radians(5)) + 40 * sin(radians(5)),
        500 * sin(radians(5)) + 40 * cos(radians(5)),
    )
    assert (long, wide) == (pytest.approx(501.6, abs=0.05), pytest.approx(83.4, abs=0.05))
    (p,) = laid((grained(5.0, width=84.5),), (leg(),)).placements
    blank = blank_of(p)
    assert (blank.length_mm, blank.width_mm) == (pytest.approx(long), pytest.approx(wide))
    assert laid((grained(5.0, width=83),), (leg(),)).placements == ()


@pytest.mark.parametrize("degrees", [None, 0.4, -0.9])
def test_a_part_lies_along_the_board_where_no_turn_is_known_or_worth_it(degrees):
    (p,) = laid((grained(degrees, width=45),), (leg(),)).placements
    assert p.angle_deg == 0


def test_grain_steeper_than_fifteen_degrees_rules_a_board_out():
    layout = laid((grained(17.0, width=400),), (leg(),))
    assert "B1 has grain that runs 17 degrees off, more than 15" in layout.unplaced[0].reason


def test_a_knot_in_the_corner_of_the_blank_is_no_hindrance():
    """Turned down to the right, the part leaves the blank's lower left corner free."""
    knot = flaw("F1", FlawKind.KNOT, box(0, 75, 60, 84))
    (p,) = laid((grained(5.0, 502, 84.5, knot),), (leg(),)).placements
    assert p.angle_deg == 5.0
    other = flaw("F1", FlawKind.KNOT, box(0, 0, 60, 9))
    assert laid((grained(5.0, 502, 84.5, other),), (leg(),)).placements == ()


def test_a_part_that_rises_keeps_clear_of_the_lower_edge_as_well():
    """Turned up to the right, its lowest corner is at the left: no lower than the board."""
    (p,) = laid((grained(-5.0, 502, 84),), (leg(),)).placements
    assert max(y for _, y in turned_shape(p).exterior.coords) <= 84
    knot = flaw("F1", FlawKind.KNOT, box(0, 75, 60, 84))
    assert laid((grained(-5.0, 502, 84.5, knot),), (leg(),)).placements == ()
    corner = flaw("F1", FlawKind.KNOT, box(0, 0, 60, 9))
    assert len(laid((grained(-5.0, 502, 84.5, corner),), (leg(),)).placements) == 1


def test_wild_grain_is_no_course_to_follow():
    wild = flaw("F1", FlawKind.WILD_GRAIN, box(490, 30, 510, 50))
    assert laid((grained(0.0, 600, 80, wild),), (leg(1, 590, 80, "sound"),)).placements == ()
    plain = part("leg", 1, 590, 80, "sound")
    assert len(laid((grained(0.0, 600, 80, wild),), (plain,)).placements) == 1


def test_others_lie_along_the_board_beside_a_turned_part():
    layout = laid((grained(4.0, 1200, 120),), (leg(1), part("rail", 3, 400, 30)))
    assert {(p.part, p.angle_deg) for p in layout.placements} == {("leg", 4.0), ("rail", 0.0)}
    assert layout.summary.placed == 4


@pytest.mark.slow
def test_a_cut_part_stays_as_it_was_turned():
    boards = (grained(5.0, 1100, 90),)
    first = laid(boards, (leg(2),))
    cut = replace(
        first, placements=(replace(first.placements[0], state="cut"), *first.placements[1:])
    )
    again = laid(boards, (leg(2),), keep=cut)
    assert again.placements[0] == cut.placements[0]
    assert len(again.placements) == 2


def test_the_validator_condemns_a_turn_that_nobody_asked_for_and_one_off_the_grain():
    boards, parts = (grained(5.0, 1000, 200),), (leg(),)
    layout = laid(boards, parts)
    said = validate_layout(layout, boards, (replace(parts[0], straight_grain=None),), SHOP)
    assert any("is turned, which it does not ask for" in str(o) for o in said)
    (p,) = layout.placements
    straight = replace(layout, placements=(replace(p, angle_deg=0.0),))
    said = validate_layout(straight, boards, parts, SHOP)
    assert any("5.0 degrees off the grain" in str(o) for o in said)


@settings(
    max_examples=24,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@pytest.mark.slow
@given(LOTS, st.sampled_from([-14.0, -3.0, 2.0, 6.5]))
def test_every_layout_with_turned_parts_passes_the_validator(lot, degrees):
    boards, parts = lot
    boards = tuple(replace(b, grain_deg=degrees * (n + 1) / 2) for n, b in enumerate(boards))
    parts = tuple(replace(p, straight_grain="follow") for p in parts)
    laid(boards, parts, Shop())


def test_what_became_of_the_wish_is_said():
    from scanner.app.placing.follow_grain import grain_said, with_grain

    crack = flaw("F1", FlawKind.CHECK, Polygon([(700, 150), (800, 159), (800, 160), (700, 151)]))
    known, unknown = board("B1", 1000, 260, crack), board("B2", 505, 45)
    parts = (leg(2),)
    boards = with_grain((known, unknown), parts, lambda board, face: None)
    assert [b.grain_deg for b in boards] == [pytest.approx(5.14, abs=0.01), None]
    turned = grain_said(boards, parts, laid(boards[:1], (leg(1),)))
    assert turned[0].startswith("leg on B1 is turned 5.1 degrees with the grain")
    straight = grain_said(boards, parts, laid(boards[1:], (leg(1),)))
    assert straight[0].startswith("leg on B2: the course of its grain is not known")
    assert grain_said(boards, (part("a", 1, 9, 9),), laid(boards, (part("a", 1, 9, 9),))) == ()
