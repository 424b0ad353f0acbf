"""Ways to shut a board in slices: they allow all that holds few enough copies, and no more."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from scanner.placement.slices import allows, narrower, slices

OPEN = ((),)


def copies(*places: tuple[int, int], part: int = 0) -> np.ndarray:
    return np.array([(part, cell, row) for cell, row in places], np.int64)


@pytest.mark.parametrize("most", [1, 2, 3])
@pytest.mark.parametrize("seed", range(5))
def test_whatever_holds_few_copies_is_allowed_in_some_way(seed: int, most: int) -> None:
    """All layouts of up to three copies on a small board are tried."""
    rng = np.random.default_rng(seed)
    places = [(cell, row) for cell in range(4) for row in range(3)]
    cover = OPEN
    for _ in range(3):
        drawn = rng.choice(len(places), most + 1, replace=False)
        too_many = copies(*(places[n] for n in drawn))
        cover = narrower(cover, too_many, 0, most)
        assert not any(allows(bars, too_many) for bars in cover)
    for held in combinations(places, most):
        assert any(allows(bars, copies(*held)) for bars in cover)


def test_slices_hold_a_copy_each_and_leave_no_place_out() -> None:
    stacked = copies((5, 0), (5, 90), (5, 180), (60, 0))
    found = slices(stacked, 4)
    for cell, row in ((0, 0), (5, 89), (5, 91), (32, 500), (33, 0), (999, 999)):
        inside = [not allows((bar,), copies((cell, row))) for bar in found]
        assert inside.count(True) == 1
    assert all(sum(not allows((bar,), one[None]) for one in stacked) == 1 for bar in found)


def test_other_parts_may_lie_where_one_is_barred() -> None:
    (bars, *_) = narrower(OPEN, copies((0, 0), (9, 0)), 0, 1)
    assert not allows(bars, copies((0, 0))) or not allows(bars, copies((9, 0)))
    assert allows(bars, copies((0, 0), (9, 0), part=1))


def test_ways_that_bar_more_than_another_are_dropped() -> None:
    first = narrower(OPEN, copies((0, 0), (9, 0)), 0, 1)
    again = narrower(first, copies((0, 0), (9, 0)), 0, 1)
    assert again == first


def test_fewer_copies_than_slices_are_refused() -> None:
    with pytest.raises(ValueError, match="1 copies do not stand in 2 slices"):
        slices(copies((3, 3)), 2)
