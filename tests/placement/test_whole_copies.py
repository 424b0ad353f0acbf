"""Sets of boards that hold all parts in fractions of patterns only are refuted, no others."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from scanner.placement.pricing import Pricing
from scanner.placement.slices import allows
from scanner.placement.whole_copies import WholeCopies

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.placement.items import Floats
    from scanner.placement.slices import Copies, Cover


@dataclass(frozen=True)
class Listed:
    """A board that gives one of some patterns (P, T), priced as a grid is."""

    patterns: Floats

    def copies(self, pattern: int) -> Copies:
        """Return where the copies of a pattern begin: one here, one there, in every row."""
        lines = [
            (t, (3 * pattern + 5 * t + 7 * n) % 11, n)
            for t, many in enumerate(self.patterns[pattern])
            for n in range(int(many))
        ]
        return np.array(lines, np.int64).reshape(-1, 3)

    def most(
        self, price: Floats, share: float, deep: int, cover: Cover = ((),)
    ) -> tuple[float, float, list[Copies]]:
        best, held = 0.0, []
        for n, bars in product(range(len(self.patterns)), cover):
            # A barred copy falls away, and the rest of its pattern may stay.
            own = [line for line in self.copies(n) if price[line[0]] > 0]
            own = [line for line in own if allows(bars, np.array([line]))]
            worth = sum(price[line[0]] for line in own)
            if worth > best:
                best = worth
                held.append(np.array(own))
        return best, 1.0, held


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


def test_copies_that_nobody_wants_do_not_stand_in_for_others() -> None:
    """Half of three rails on one board and half of three stiles pass for one of each and more."""
    one = Listed(np.array([[3.0, 0], [0, 3]]))
    size, wanted = np.array([4.0, 4.0]), np.ones(2)
    assert not hold((one,), wanted)
    assert refutes((one,), size, wanted)
    both = Listed(np.array([[3.0, 0], [0, 3], [1, 1]]))
    assert not refutes((both,), size, wanted)


@pytest.mark.parametrize("seed", range(12))
def test_boards_are_refuted_just_where_no_choice_of_patterns_does(seed: int) -> None:
    """Every case is parted to its end here, so both answers are exact."""
    rng = np.random.default_rng(100 + seed)
    boards = [Listed(rng.integers(0, 4, (4, 4)).astype(float)) for _ in range(2)]
    wanted = rng.integers(1, 4, 4).astype(float)
    assert refutes(boards, rng.uniform(1, 9, 4), wanted) != hold(boards, wanted)
