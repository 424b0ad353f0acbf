"""Curved parts: only the shape and its allowance must be clear, the blank is what the saws free."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from scanner.board.flaw import FlawKind
from scanner.placement.curves.shapes import rough_shape, shape_on_blank
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, flaw, part
from tests.placement.lots import LOTS

# A bracket: the lower right half of its rectangle is not wanted.
TRIANGLE = ((0.0, 0.0), (400.0, 0.0), (0.0, 100.0))


def bracket(copies: int = 1, **more):
    return replace(
        part("bracket", copies, 400, 100), shape="bracket.svg", outline_mm=TRIANGLE, **more
    )


def laid(boards, parts, shop=SHOP):
    layout = solve(boards, parts, shop, Work(20))
    assert validate_layout(layout, boards, parts, shop) == ()
    return layout


def test_a_knot_beside_the_shape_is_no_hindrance_and_one_in_it_is():
    outside = flaw("F1", FlawKind.KNOT, box(300, 70, 390, 95))
    within = flaw("F1", FlawKind.KNOT, box(20, 20, 60, 40))
    plain = part("bracket", 1, 400, 100)
    assert len(laid((board("B1", 402, 102, outside),), (bracket(),)).placements) == 1
    assert laid((board("B1", 402, 102, outside),), (plain,)).placements == ()
    assert laid((board("B1", 402, 102, within),), (bracket(),)).placements == ()


def test_a_corner_of_the_blank_may_lie_off_the_board():
    """A board that narrows from 110 to 60 mm: the rectangle does not lie on it, the shape does."""
    outline = Polygon([(0, 0), (410, 0), (410, 60), (0, 110)])
    tapered = board("B1", 410, 110, outline=outline)
    assert laid((tapered,), (part("bracket", 1, 400, 100),)).placements == ()
    (p,) = laid((tapered,), (bracket(),)).placements
    assert outline.buffer(0.01).covers(shape_on_blank(p, bracket()))


def test_the_allowance_goes_all_round_the_shape():
    """25 and 12 mm: 6 mm on every side of the shape, and 6.5 more at each end of the blank."""
    shop = replace(SHOP, length_allowance_mm=25.0, width_allowance_mm=12.0)
    x0, y0, _, _ = rough_shape(bracket(), shop).bounds
    assert (round(x0, 3), round(y0, 3)) == (6.5, 0.0)
    near = flaw("F1", FlawKind.KNOT, box(280, 50, 300, 60))
    (p,) = laid((board("B1", 430, 114),), (bracket(),), shop).placements
    assert (p.length_mm, p.width_mm) == (425.0, 112.0)
    # The slanted edge passes at y = 6 + 100 - (280 - 12.5) / 4 = 39 there; 11 mm off is enough.
    assert len(laid((board("B1", 430, 114, near),), (bracket(),), shop).placements) == 1
    nearer = replace(near, outlines={1: box(280, 42, 300, 50)})
    assert laid((board("B1", 430, 114, nearer),), (bracket(),), shop).placements == ()


@pytest.mark.slow
def test_two_blanks_keep_a_kerf_and_others_stay_rectangles():
    layout = laid((board("B1", 810, 110),), (bracket(2), part("rail", 1, 800, 50)))
    assert sorted(p.part for p in layout.placements) == ["bracket", "bracket"]
    assert layout.summary.placed == 2


def test_the_validator_condemns_a_flaw_within_the_shape_alone():
    boards = (board("B1", 402, 102),)
    layout = laid(boards, (bracket(),))
    for shape, is_bad in ((box(300, 70, 390, 95), False), (box(20, 20, 60, 40), True)):
        spotted = (boards[0].with_flaws((flaw("F1", FlawKind.KNOT, shape),)),)
        said = validate_layout(layout, spotted, (bracket(),), SHOP)
        assert any("too near to knot F1" in str(o) for o in said) is is_bad


@settings(
    max_examples=24,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@pytest.mark.slow
@given(LOTS, st.sampled_from([0.2, 0.5, 0.9]))
def test_every_layout_with_curved_parts_passes_the_validator(lot, share):
    boards, parts = lot
    curved = tuple(
        replace(
            p,
            match=None,
            length_min_mm=None,
            width_min_mm=None,
            outline_mm=(
                (0.0, 0.0),
                (p.length_mm * share, 0.0),
                (p.length_mm, p.width_mm),
                (0.0, p.width_mm * share),
            ),
        )
        for p in parts
    )
    laid(boards, curved, Shop())
