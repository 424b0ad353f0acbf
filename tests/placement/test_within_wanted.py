"""A board's worth within what is wanted: never too low, and nearer than any number of copies."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from scanner.placement.proof.pricing import Pricing
from scanner.placement.proof.within_wanted import WithinWanted
from tests.placement.test_whole_copies import Listed

if TYPE_CHECKING:
    from scanner.placement.wanted.items import Floats


def within(board: Listed, wanted: Floats) -> WithinWanted:
    return WithinWanted(Pricing(cast("Any", [board])), wanted[None], 1)


def test_three_rails_are_worth_one_where_one_is_wanted() -> None:
    """Three rails at 4 pass for 12; a rail and a stile at 3 are all that is wanted: 7."""
    board, price, wanted = Listed(np.array([[3.0, 0], [1, 1]])), np.array([4.0, 3.0]), np.ones(2)
    assert Pricing(cast("Any", [board])).of(0, price, 1)[0] == 12.0
    most, cost, _ = within(board, wanted).most(0, price)
    assert 7.0 - 1e-9 <= most < 7.5
    # Two rails too many cost what they seemed to be worth more; a stile costs nothing.
    assert cost[0] > 2.2 and cost[1] == 0.0


@pytest.mark.parametrize("seed", range(12))
def test_what_is_wanted_is_never_worth_more_than_told_and_all_of_it_is_listed(seed: int) -> None:
    rng = np.random.default_rng(seed)
    board = Listed(rng.integers(0, 5, (6, 4)).astype(float))
    price, wanted = rng.uniform(1, 9, 4), rng.integers(1, 4, 4).astype(float)
    asked = within(board, wanted)
    most, cost, _ = asked.most(0, price)
    best = float((np.minimum(board.patterns, wanted) @ price).max())
    assert best <= most * (1 + 1e-9) <= float((board.patterns @ price).max()) * (1 + 2e-9)
    for share in (0.5, 0.9):
        listed = asked.listed(0, price, cost, share * best, 999)
        plainly = board.near_best(price, wanted, share * best, 1, 999)
        assert listed is not None and plainly is not None
        assert sorted(map(tuple, listed)) == sorted(map(tuple, plainly))
