"""Many boards are searched district by district: each may only gain, and time ends it anywhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scanner.placement.choosing import districts
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.problem import problem_of
from scanner.placement.choosing.search import Campaign
from scanner.placement.solve import solve
from scanner.placement.stop import Clock, Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, part

EXACT = replace(SHOP, cut_class="three_stage")
BOARDS = tuple(
    board(f"B{n}", long, wide)
    for n, (long, wide) in enumerate(((180, 34), (205, 27), (297, 24), (251, 27)))
)
PARTS = tuple(
    part(f"p{n}", *row)
    for n, row in enumerate(((3, 142, 13), (4, 121, 10), (4, 61, 16), (2, 148, 28)))
)


class Shrinking(Work):
    """A stop rule by steps that tells them as seconds: what is left can be reckoned with."""

    def seconds_left(self, steps: int) -> float:
        return float(self.steps - steps)


@pytest.fixture(autouse=True)
def small_districts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(districts, "FROM_BOARDS", 3)
    monkeypatch.setattr(districts, "BOARDS", 2)
    monkeypatch.setattr(districts, "ROUNDS", 3)
    monkeypatch.setattr(districts, "_FEWEST", 2)


def campaign(steps: int) -> tuple[Campaign, list[float], float]:
    problem = problem_of(BOARDS, PARTS, [p.quantity for p in PARTS], EXACT)
    pool = Pool(problem.types.value, problem.types.wanted)
    shown: list[float] = []
    every = Campaign(
        problem, pool, frozenset(range(len(BOARDS))), Clock(Shrinking(steps)),
        np.random.default_rng(1),
        lambda choice: shown.append(sum(float(p.counts @ pool.value) for p in choice.values())),
    )  # fmt: skip
    return every, shown, float(pool.wanted @ pool.value)


def test_districts_gain_on_the_first_layout_and_never_lay_a_copy_too_many() -> None:
    every, shown, goal = campaign(40)
    districts.search(every, goal)
    assert len(shown) > 1
    assert shown == sorted(shown)
    assert shown[-1] == every.best_value > 1.02 * shown[0]
    laid = sum(pattern.counts for pattern in every.best.values())
    assert np.all(laid <= every.pool.wanted)


@pytest.mark.slow
def test_a_search_that_ends_anywhere_keeps_what_it_has() -> None:
    values = []
    for steps in (1, 20, 40):
        every, shown, goal = campaign(steps)
        districts.search(every, goal)
        assert shown[-1] == every.best_value
        values.append(every.best_value)
    assert values == sorted(values)


@pytest.mark.slow
def test_layouts_found_by_districts_pass_the_judge_and_come_again() -> None:
    layouts = [solve(BOARDS, PARTS, SHOP, Work(40)) for _ in range(2)]
    assert validate_layout(layouts[0], BOARDS, PARTS, SHOP) == ()
    assert layouts[0].placements == layouts[1].placements
