"""What a board surely can give lies on it, and is no more than it may hold."""

from __future__ import annotations

import numpy as np
import pytest

from scanner.placement.choosing.problem import problem_of
from scanner.placement.proof.section_grid import section_grid
from scanner.placement.proof.sure_grid import sure_grid
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS
from tests.instances.tiny import SHOP, board, part

KERF = SHOP.kerf_mm


@pytest.mark.parametrize(("long", "copies"), [(300.0, 3), (302.0, 2)])
def test_slats_lie_one_after_another_with_a_kerf_between(long: float, copies: int) -> None:
    """As many as a board of three slats, two kerfs and a hair holds: cells take none of them."""
    parts = (part("slat", 3, long, 60),)
    one = board("B1", 3 * 300 + 2 * KERF + 3, 61)
    problem = problem_of((one,), parts, [3], SHOP, row_heights=FINE_ROW_HEIGHTS)
    grid = sure_grid(problem, 0, [0])
    listed = grid.near_best(np.ones(1), np.array([3.0]), 0.5, len(grid.levels), 99)
    assert listed is not None
    assert listed.max(initial=0) == copies


@pytest.mark.slow
def test_what_surely_lies_is_among_what_may_lie() -> None:
    parts = (part("rail", 2, 300, 40), part("stile", 1, 500, 60), part("slat", 3, 180, 30))
    one = board("B1", 820, 110)
    wanted, price = np.array([2.0, 1, 3]), np.array([12.0, 30.0, 5.4])
    problem = problem_of((one,), parts, [2, 1, 3], SHOP, row_heights=FINE_ROW_HEIGHTS)
    sure, may = sure_grid(problem, 0, [0, 1, 2]), section_grid(one, parts, SHOP, 5, 5, (32, 8, 2))
    lies = sure.near_best(price, wanted, 20.0, len(sure.levels), 999)
    may_lie = may.near_best(price, wanted, 20.0, len(may.levels), 999)
    assert lies is not None and may_lie is not None and len(lies)
    assert {own.tobytes() for own in lies} <= {own.tobytes() for own in may_lie}
