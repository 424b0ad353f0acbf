"""The judge on nested curves: a kerf and both allowances apart, and one blank round them all."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scanner.placement.layout import Placement
from scanner.placement.validator.nests import blank_round, nest_objections, nests_as_one
from scanner.placement.validator.turn import drawn_of
from tests.instances.tiny import part

# Its straight edge is the lower one: copies one above the other lie as far apart as their corners.
TENT = ((0.0, 0.0), (200.0, 0.0), (200.0, 30.0), (100.0, 40.0), (0.0, 30.0))
PARTS = {
    "leg": replace(part("leg", 4, 200, 40), shape="leg.svg", outline_mm=TENT),
    "rail": part("rail", 2, 200, 40),
}
KERF = 3.0


def leg(copy: int, x: float, y: float, nest: int | None = 1, **more) -> Placement:
    return replace(Placement("leg", copy, "B1", x, y, 200.0, 40.0, nest=nest), **more)


def said(*placed: Placement) -> str:
    return "; ".join(map(str, nest_objections(placed, PARTS, KERF)))


def test_only_curved_parts_nest_or_lie_end_for_end():
    rail = Placement("rail", 1, "B1", 0.0, 0.0, 200.0, 40.0)
    assert said(rail) == said(leg(1, 0, 0, None)) == said(leg(1, 0, 0, None, half_turn=True)) == ""
    words = "B1: rail 1 is nested or turned end for end, but not curved"
    assert said(replace(rail, nest=1)) == said(replace(rail, half_turn=True)) == words


@pytest.mark.parametrize(("gap", "is_bad"), [(3.0, False), (2.95, False), (2.93, True)])
def test_curves_of_one_nest_keep_a_kerf(gap, is_bad):
    words = said(leg(1, 0, 0), leg(2, 0, 40 + gap))
    assert bool(words) is is_bad
    if is_bad:
        assert words == "B1: leg 1 and leg 2 of nest 1 are 2.9 mm apart, 3.0 are needed"


def test_each_curve_adds_its_own_allowance_the_smaller_of_along_and_across():
    # 6 more along and 4 across: 2 mm all round; the other has none, or 1 mm.
    large = leg(1, 0, 0, length_mm=206.0, width_mm=44.0)
    assert drawn_of(large, PARTS["leg"]).bounds == pytest.approx((3, 2, 203, 42))
    assert said(large, leg(2, 3, 47)) == ""
    assert "4.9 mm apart, 5.0 are needed" in said(large, leg(2, 3, 46.9))
    other = leg(2, 2, 46, length_mm=202.0, width_mm=42.0)
    assert "5.0 mm apart, 6.0 are needed" in said(large, other)
    # What is smaller than its finished size has none to give.
    small = leg(2, 3, 46.5, width_mm=39.0)
    assert "5.0 are needed" in said(large, small)


def test_every_pair_of_a_nest_is_measured_and_no_other():
    near = leg(1, 0, 0), leg(2, 0, 43), leg(3, 0, 85.0)
    assert said(*near) == "B1: leg 2 and leg 3 of nest 1 are 2.0 mm apart, 3.0 are needed"
    # The first and the last of four.
    ring = leg(1, 0, 0), leg(2, 0, 80), leg(3, 0, 160), leg(4, 201, 0)
    assert "leg 1 and leg 4" in said(*ring)
    for apart in ({"nest": 2}, {"board": "B2"}, {"nest": None}, {"state": "spoiled"}):
        assert said(leg(1, 0, 0), replace(leg(2, 0, 41), **apart)) == ""


def test_a_nest_is_sawn_free_and_milled_as_one_blank():
    nest = leg(1, 10, 20), leg(2, 60, 63, half_turn=True)
    alone, spoiled = leg(3, 400, 0, None), leg(4, 10, 200, state="spoiled")
    blank, free = nests_as_one((*nest, alone, spoiled))[::-1]
    assert (blank.x_mm, blank.y_mm, blank.length_mm, blank.width_mm) == (10, 20, 250, 83)
    assert free == alone
    for one in nest:
        assert blank_round(one, (*nest, alone, spoiled)) == blank
    assert blank_round(alone, (*nest, alone)) == alone
    assert blank_round(spoiled, (*nest, spoiled)) == blank
    # Of a nest on another board, or of none that is there, it is its own rectangle.
    elsewhere = replace(nest[0], board="B2")
    assert blank_round(elsewhere, nest) == elsewhere
    turned = leg(1, 0, 0, None, angle_deg=90.0)
    assert blank_round(turned, ()).length_mm == pytest.approx(40)
