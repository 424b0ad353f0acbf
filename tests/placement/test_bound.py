"""The bound: never below what a layout reaches, and near to it where a person can tell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from scanner.placement.giving.sizes import givings_of, sized
from scanner.placement.proof import bound
from scanner.placement.proof.bars import lines_of
from scanner.placement.proof.lagrange import area_limits, lowest_value_bound, refuting_limit
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from tests.instances.tiny import SIX, TINY, Instance, board, part
from tests.placement.lots import LOTS

RIGHT = 1 - 1e-6


def raw_bound(boards, parts, wanted, shop, evaluations=40) -> float:
    """Return the bound by bars alone, before it is held against any layout."""
    lines = [lines_of(board, parts, shop, bound.CELL, 1) for board in boards]
    value = np.array([p.priority * p.length_mm * p.width_mm for p in parts])
    return lowest_value_bound(lines, value, np.array(wanted, float), 0.0, evaluations)


@pytest.mark.parametrize("instance", TINY, ids=lambda instance: instance.name.replace(" ", "_"))
def test_no_answer_found_by_hand_is_above_the_bound(instance: Instance) -> None:
    smallest = sized(instance.parts, {g: g.least_mm for g in givings_of(instance.parts)})
    wanted = [part.quantity for part in instance.parts]
    assert raw_bound(instance.boards, smallest, wanted, instance.shop) >= instance.value * RIGHT


def test_the_bound_of_six_of_a_kind_is_six_and_little_more() -> None:
    found = raw_bound(SIX.boards, SIX.parts, [9], SIX.shop, 200)
    assert 6.0 <= found / (300 * 60) <= 6.15


def test_boards_that_hold_all_parts_keep_every_limit_on_area() -> None:
    for instance in TINY[:3]:
        lines = [lines_of(b, instance.parts, instance.shop, bound.CELL, 1) for b in instance.boards]
        layout = solve(instance.boards, instance.parts, instance.shop, Work(20))
        placed = [sum(p.part == part.name for p in layout.placements) for part in instance.parts]
        size = np.array([p.length_mm * p.width_mm for p in instance.parts])
        area = np.array([b.wood(1).area for b in instance.boards])
        wanted = np.array(placed, float)
        limits = area_limits(lines, size, wanted, area, float(area.sum()), 30)
        _, most = limits[0]
        assert most > 0
        for worth, need in limits:
            assert worth.sum() >= need * RIGHT


def test_a_limit_that_refutes_two_boards_spares_the_three_that_do() -> None:
    """Three boards of 300 x 60 hold three parts of 290 x 60, one each; no two of them do."""
    boards = tuple(board(f"B{n}", 300, 60) for n in range(3))
    parts = (part("slat", 3, 290, 60),)
    lines = [lines_of(b, parts, SIX.shop, bound.CELL, 1) for b in boards]
    limit = refuting_limit(lines, np.array([294.0 * 64.0]), np.array([3.0]), [0, 1], 60)
    assert limit is not None
    worth, need = limit
    assert worth[:2].sum() < need
    assert worth.sum() >= need * RIGHT


def test_boards_that_all_parts_need_are_the_bound_on_area() -> None:
    boards = tuple(board(f"B{n}", 300, 60) for n in range(4))
    layout = solve(boards, (part("slat", 3, 290, 60),), SIX.shop, Work(20))
    assert layout.bound.of == "area"
    assert layout.bound.gap == pytest.approx(0.0, abs=1e-6)


@pytest.mark.slow
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(LOTS)
def test_no_layout_is_worth_more_than_the_bound(lot) -> None:
    """The solver's own layouts, on boards with any flaws, stay below the bound by bars."""
    boards, parts = lot
    shop = Shop()
    layout = solve(boards, parts, shop, Work(12))
    worth = {p.name: p.priority * p.length_mm * p.width_mm for p in parts}
    value = sum(worth[p.part] for p in layout.placements)
    smallest = sized(parts, {g: g.least_mm for g in givings_of(parts)})
    wanted = [part.quantity + part.spares for part in parts]
    assert raw_bound(boards, smallest, wanted, shop) >= value * RIGHT
