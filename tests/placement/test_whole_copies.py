"""Sets of boards that hold all parts in fractions of patterns only are refuted, no others."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from scanner.placement.pricing import Pricing
from scanner.placement.whole_copies import WholeCopies

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.placement.items import Floats


@dataclass(frozen=True)
class Listed:
    """A board that gives one of some patterns (P, T), priced as a grid is."""

    patterns: Floats

    def most(self, price: Floats, share: float, deep: int) -> tuple[float, float, Floats]:
        worth = self.patterns @ np.maximum(price, 0.0)
        best = int(np.argmax(worth))
        return float(worth[best]), 1.0, self.patterns[best] * (price > 0)


def hold(boards: Sequence[Listed], wanted: Floats) -> bool:
    """Whether some choice of a pattern a board gives every copy: all are tried."""
    return any(
        np.all(np.sum(chosen, axis=0) >= wanted)
        for chosen in product(*(b.patterns for b in boards))
    )


def refutes(boards: Sequence[Listed], size: Floats, wanted: Floats) -> bool:
    copies = WholeCopies(Pricing(cast("Any", boards)), size, wanted, 1, lambda: False)
    return copies.refutes(range(len(boards)), size.copy())


def test_two_boards_that_give_the_wrong_pairs_hold_not_all() -> None:
    """In halves both pairs of each board give one copy of each part; no whole pairs do."""
    first = Listed(np.array([[1.0, 1, 0, 0], [0, 0, 1, 1]]))
    second = Listed(np.array([[1.0, 0, 1, 0], [0, 1, 0, 1]]))
    size, wanted = np.array([3.0, 4.0, 5.0, 6.0]), np.ones(4)
    assert not hold((first, second), wanted)
    assert refutes((first, second), size, wanted)
    third = Listed(np.array([[0.0, 0, 1, 1]]))
    assert not refutes((first, second, third), size, wanted)


@pytest.mark.parametrize("seed", range(6))
def test_what_some_layout_holds_is_never_refuted(seed: int) -> None:
    rng = np.random.default_rng(seed)
    boards = [Listed(rng.integers(0, 3, (5, 5)).astype(float)) for _ in range(3)]
    size = rng.uniform(1, 9, 5)
    chosen = np.sum([board.patterns[rng.integers(5)] for board in boards], axis=0)
    assert not refutes(boards, size, chosen)
    for wanted in (chosen + 1, np.maximum(chosen, 1 + rng.integers(0, 3, 5))):
        if refutes(boards, size, wanted):
            assert not hold(boards, wanted)
