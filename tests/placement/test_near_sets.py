"""Sets near to one that does: those that save wood, keep room, and were not tried."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from scanner.placement.choosing import fewer_boards
from scanner.placement.choosing.near_sets import nearest_untried
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, part

AREA = np.array([4.0, 5.0, 6.0, 7.0, 3.0, 8.0])
CAPACITY = np.array([[0.3, 0.4, 0.5, 0.4, 0.3, 0.6], [0.4, 0.4, 0.4, 0.5, 0.2, 0.7]])
OPENED = frozenset({0, 2, 5})


def all_near() -> set[frozenset[int]]:
    """Return every set with less wood that lacks at most two and adds at most two boards."""
    known = AREA[sorted(OPENED)].sum()
    every = (frozenset(c) for n in range(6) for c in combinations(range(6), n))
    return {
        s
        for s in every
        if len(OPENED - s) in (1, 2) and len(s - OPENED) <= 2 and AREA[sorted(s)].sum() < known
    }


def test_every_near_set_that_saves_wood_comes_once_and_the_roomiest_first() -> None:
    came: list[frozenset[int]] = []
    while (found := nearest_untried(OPENED, (), AREA, CAPACITY, came, 1e-9)) is not None:
        came.append(found)
    assert len(came) == len(set(came))
    assert set(came) == all_near()

    def promise(boards: frozenset[int]) -> float:
        room = CAPACITY[:, sorted(boards)].sum(axis=1).min()
        return float(room - 0.7 * AREA[sorted(boards)].sum() / 18.0)

    told = [promise(boards) for boards in came]
    assert told == pytest.approx(sorted(told, reverse=True))


def test_a_board_that_stays_open_never_leaves_and_little_saved_is_not_enough() -> None:
    found = nearest_untried(OPENED, {5}, AREA, CAPACITY, (), 0.2)
    assert found is not None
    assert 5 in found
    saved = AREA[sorted(OPENED)].sum() - AREA[sorted(found)].sum()
    assert saved >= 0.2 * AREA[[0, 2]].sum() - 1e-9
    assert nearest_untried({4}, (), AREA, CAPACITY, {frozenset()}, 0.0) is None


@pytest.mark.slow
def test_a_search_that_goes_to_near_sets_keeps_every_part_and_opens_ever_less_wood(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(fewer_boards, "MANY_OPENED", 2)
    tried: list[frozenset[int] | None] = []

    def noted(*asked: Any) -> frozenset[int] | None:
        tried.append(nearest_untried(*asked))
        return tried[-1]

    monkeypatch.setattr(fewer_boards, "nearest_untried", noted)
    boards = tuple(board(f"B{n}", 640 + 43 * n, 84 + 7 * (n % 3)) for n in range(5))
    parts = tuple(part(f"p{n}", 2, 170 + 61 * n, 31 + 7 * n) for n in range(4))
    shop = replace(SHOP, cut_class="three_stage")
    layouts = [solve(boards, parts, shop, Work(work), in_full=False) for work in (60, 60, 20)]
    assert any(tried), "no near set was tried"
    for layout in layouts:
        assert validate_layout(layout, boards, parts, shop) == ()
        assert layout.summary.placed == 8
    assert layouts[0].placements == layouts[1].placements
    assert layouts[0].summary.area_opened_mm2 <= layouts[2].summary.area_opened_mm2
