"""Where rows of a millimetre hold nothing more, the search goes on on finer ones."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from scanner.placement.choosing import finer_rows
from scanner.placement.choosing.choice import Choice
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.problem import Problem, problem_of
from scanner.placement.choosing.search import Campaign
from scanner.placement.finish.assemble import placements_of
from scanner.placement.stop import Clock, Work
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS
from tests.instances.tiny import SHOP, board, part

EXACT = replace(SHOP, cut_class="three_stage", kerf_mm=3.2)
# Three strips of 40.4 and two kerfs are just the board's width, of which coarse rows lose some.
BOARDS = (board("B1", 320, 127.6), board("B2", 310, 127.6))
PARTS = (part("a", 12, 150, 40.4), part("b", 1, 290, 60))


def _problems() -> tuple[Problem, partial[Problem]]:
    on_rows = partial(problem_of, BOARDS, PARTS, [p.quantity for p in PARTS], EXACT)
    return on_rows(), partial(on_rows, row_heights=FINE_ROW_HEIGHTS)


def _campaign(problem: Problem, steps: int) -> Campaign:
    pool = Pool(problem.types.value, problem.types.wanted)
    return Campaign(
        problem, pool, frozenset(range(len(BOARDS))), Clock(Work(steps)), np.random.default_rng(1)
    )


def _searched(steps: int) -> tuple[Campaign, list[tuple[Problem, Choice]]]:
    problem, finer = _problems()
    every, told = _campaign(problem, steps), list[tuple[Problem, Choice]]()
    goal = float(every.pool.wanted @ every.pool.value)
    found = finer_rows.search(every, goal, finer, lambda on, choice: told.append((on, choice)))
    return found, told


@pytest.mark.slow
def test_wood_that_coarse_rows_lose_at_each_strip_is_found_on_finer_ones():
    found, told = _searched(400)
    coarse = _campaign(_problems()[0], 400)
    coarse.advance(400, until_stuck=True)
    assert coarse.is_stuck
    assert found.problem.types.row < coarse.problem.types.row
    assert found.finest_value > coarse.finest_value
    assert found.finest_value == pytest.approx(12 * 150 * 40.4)
    # What is shown is read by the rows that it was found on.
    assert told[-1][0] is found.problem
    assert told[-1][1] == found.finest


@pytest.mark.slow
def test_all_that_was_known_lies_on_finer_rows_where_it_lay():
    problem, finer = _problems()
    every = _campaign(problem, 400)
    every.advance(400, until_stuck=True)
    found = finer_rows.search(every, every.best_value, finer, lambda on, choice: None)
    assert found.problem.types.row == FINE_ROW_HEIGHTS[0]
    where = placements_of(every.problem, every.finest, ())
    assert placements_of(found.problem, found.finest, ()) == where
    assert found.finest_value == every.finest_value
    assert len(found.pool.patterns) >= len(every.pool.patterns)


def test_a_search_that_has_no_time_left_stays_on_its_rows():
    found, _ = _searched(3)
    assert found.problem.types.row > FINE_ROW_HEIGHTS[0]


@pytest.mark.slow
def test_the_same_work_gives_the_same_layout_on_finer_rows():
    one, other = _searched(250)[0], _searched(250)[0]
    assert one.problem.types.row == FINE_ROW_HEIGHTS[0]
    assert placements_of(one.problem, one.finest, ()) == placements_of(
        other.problem, other.finest, ()
    )
