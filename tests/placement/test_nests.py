"""Curved parts nest into each other along the grain; the judge measures between the curves."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shapely.geometry import Polygon

from scanner.files.layout_file import layout_json, read_layout
from scanner.placement.curves.nests import nests_of
from scanner.placement.curves.shapes import shape_on_blank, shapes_said
from scanner.placement.layout import Layout
from scanner.placement.solve import solve
from scanner.placement.stop import Seconds, Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, part

pytestmark = pytest.mark.slow

# Half of the rectangle each: two of them, one turned end for end, nearly fill one.
WEDGE = ((0.0, 0.0), (400.0, 0.0), (0.0, 100.0))
_X = [750.0 * n / 16 for n in range(17)]
_LOW = [85.0 * math.sin(math.pi * x / 750) for x in _X]
# A bench leg: 45 mm of wood along a bow of 85 mm.
LEG = (
    *zip(_X, _LOW, strict=True),
    *((x, y + 45) for x, y in zip(_X[::-1], _LOW[::-1], strict=True)),
)


def wedges(copies: int):
    return replace(part("wedge", copies, 400, 100), shape="w.svg", outline_mm=WEDGE)


def legs(copies: int):
    return replace(part("leg", copies, 750, 130), shape="leg.svg", outline_mm=LEG)


def laid(boards, parts, shop=SHOP, work=60, keep=None) -> Layout:
    layout = solve(boards, parts, shop, Work(work), keep=keep)
    assert validate_layout(layout, boards, parts, shop) == ()
    return layout


def test_two_wedges_lie_in_little_more_than_one_rectangle():
    """By hand: along the slant of 1 in 4, a kerf of 4 mm square to it is 4.12 mm across."""
    across = 4 * math.hypot(400, 100) / 400
    best = nests_of(wedges(2), SHOP)
    two = min(n.width_mm for n in best if len(n.copies) == 2 and n.length_mm == 400)
    assert 100 + across <= two <= 100 + across + 0.5


def test_two_wedges_come_from_a_board_that_holds_one_rectangle():
    layout = laid((board("B1", 430, 112),), (wedges(2),))
    assert {p.nest for p in layout.placements} == {1}
    assert sorted(p.half_turn for p in layout.placements) == [False, True]
    first, second = (shape_on_blank(p, wedges(2)) for p in layout.placements)
    assert first.distance(second) >= SHOP.kerf_mm
    assert len(layout.pieces[0].placements) == 2
    assert "saw between them once" in " ".join(shapes_said((wedges(2),), layout))


def test_four_bowed_legs_come_from_a_strip_of_two_and_a_half_rectangles():
    """Stacked as they are: 130 + 3 x (45 / cos + kerf); as rectangles four need 532 mm."""
    parts = (legs(4),)
    layout = laid((board("B1", 760, 300),), parts)
    assert layout.summary.placed == 4
    curves = [shape_on_blank(p, parts[0]) for p in layout.placements]
    apart = min(a.distance(b) for n, a in enumerate(curves) for b in curves[:n])
    assert apart >= SHOP.kerf_mm


def test_an_odd_leg_lies_alone_and_rectangles_stay():
    parts = (legs(3), part("rail", 1, 700, 60))
    layout = laid((board("B1", 1600, 215),), parts)
    assert layout.summary.placed == 4


@pytest.mark.parametrize("change", ["moved", "turned", "flat"])
def test_the_judge_condemns_curves_too_near_and_turns_nobody_may_make(change):
    parts = (wedges(2),)
    boards = (board("B1", 450, 130),)
    layout = laid(boards, parts)
    assert layout.placements[0].nest == 1
    first, *rest = layout.placements
    if change == "moved":
        at = layout.placements[1]
        nearer = math.copysign(1.0, at.y_mm - first.y_mm or 1.0)
        first = replace(first, y_mm=first.y_mm + nearer)
    elif change == "turned":
        first = replace(first, half_turn=not first.half_turn)
    else:
        parts = (part("wedge", 2, 400, 100),)
    said = validate_layout(replace(layout, placements=(first, *rest)), boards, parts, SHOP)
    wanted = "but not curved" if change == "flat" else "mm apart"
    assert any(wanted in str(o) for o in said)


def test_a_layout_made_again_keeps_its_nests_and_a_file_keeps_them_too(tmp_path):
    boards, parts = (board("B1", 900, 130),), (wedges(4),)
    layout = laid(boards, parts)
    assert any(p.nest for p in layout.placements)
    path = tmp_path / "layout.json"
    path.write_text(layout_json(layout))
    assert read_layout(path).placements == layout.placements
    again = laid(boards, parts, keep=layout, work=5)
    assert again.placements == layout.placements


def test_what_is_cut_of_a_nest_stays_and_the_rest_is_placed_anew():
    boards, parts = (board("B1", 1400, 130),), (wedges(2),)
    layout = laid(boards, parts)
    cut, other = layout.placements
    halfway = replace(layout, placements=(replace(cut, state="cut"), other))
    again = laid(boards, parts, keep=halfway)
    assert again.placements[0] == halfway.placements[0]
    assert again.summary.placed == 2


def test_the_outline_told_to_the_search_holds_every_curve():
    for one in (legs(4), wedges(4)):
        for nest in nests_of(one, SHOP):
            ground = Polygon(nest.outline_mm)
            for c in nest.copies:
                shape = [(x, y) for x, y in one.outline_mm]
                if c.half_turn:
                    shape = [(one.length_mm - x, one.width_mm - y) for x, y in shape]
                curve = Polygon([(x + c.x_mm, y + c.y_mm) for x, y in shape])
                assert curve.difference(ground.buffer(0.01)).area < 1.0


@pytest.mark.parametrize("turn", [(False, True), (True, False), (False, False)])
def test_however_a_wedge_is_drawn_two_lie_in_little_more_than_one_rectangle(turn):
    to_right, down = turn
    outline = tuple((x if to_right else 400 - x, y if down else 100 - y) for x, y in WEDGE)
    drawn = replace(wedges(2), outline_mm=outline)
    one, other = (max(n.gain for n in nests_of(p, SHOP)) for p in (drawn, wedges(2)))
    assert one == pytest.approx(other, abs=0.005)


def test_curves_are_laid_even_where_finding_their_nests_took_all_the_time():
    boards, parts = (
        (board("B1", 900, 300), board("B2", 900, 300)),
        (legs(4), part("rail", 2, 700, 60)),
    )
    layout = solve(boards, parts, SHOP, Seconds(1e-6), in_full=False)
    assert layout.summary.placed == 6
