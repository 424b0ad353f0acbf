"""What one board is worth at most within what is wanted, nearly, and all that is worth nearly that.

Exact pricing lays as many copies as there is room for, and so much that is worth something, but not
wanted, makes lists long: what is still to come on a board seems to be worth more than it can be.
Each copy laid therefore costs a little, and all that is wanted gets it back: for a layout that
holds no more than that this changes nothing for the worse (A. M. Geoffrion, "Lagrangean relaxation
for integer programming", Mathematical Programming Study 2 (1974)). What a copy should cost is told
by what the board was found to hold (J. E. Kelley, "The cutting-plane method for solving convex
programs", Journal of the Society for Industrial and Applied Mathematics 8 (1960)).
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.choosing.programme import most
from scanner.placement.proof.pricing import Pricing
from scanner.placement.wanted.items import Floats

# So many prices are asked at once, held near to the best ones, unless none can be so much better.
_MOST_ROUNDS, _STEADY, _NEAR_ENOUGH = 5, 0.4, 2e-3
# A copy never costs all that it is worth: what is worth nothing is not listed.
_MOST_OF_PRICE = 0.95


@dataclass(slots=True)
class WithinWanted:
    """The boards at one fineness; remembers what they hold where nobody counts the copies.

    wanted: copies of each part that count on each board, (B, T).
    """

    pricing: Pricing
    wanted: Floats
    deep: int
    _held: dict[int, list[Floats]] = field(default_factory=dict)

    def most(self, board: int, price: Floats) -> tuple[float, Floats, Floats]:
        """Return the most of a board, what each copy costs there, (T,), and what it would hold."""
        held = self._held.setdefault(board, [])
        best, dearest, counts = float("inf"), np.zeros(len(price)), np.zeros(len(price))
        wanted = self.wanted[board]
        cost = _cost(held, price, wanted)[1]
        for _ in range(_MOST_ROUNDS):
            worth, laid = self.pricing.of(board, price - cost, self.deep)
            total = worth + float(cost @ wanted)
            if total < best:
                best, dearest, counts = total, cost, laid
            is_new = not any(np.array_equal(laid, known) for known in held)
            if is_new:
                held.append(laid)
            not_laid = wanted - laid
            if np.all(not_laid >= 0) and float(cost @ not_laid) <= _NEAR_ENOUGH * total:
                break
            hoped, cost = _cost(held, price, wanted)
            if not is_new or best - hoped <= _NEAR_ENOUGH * best:
                break
            cost = _STEADY * dearest + (1 - _STEADY) * cost
        return best, dearest, counts

    def listed(
        self, board: int, price: Floats, cost: Floats, least: float, most: int, *work: int
    ) -> Floats | None:
        """Return all patterns (P, T) of a board worth ``least`` or more; None for too many.

        cost: of each copy laid, (T,), which changes nothing but how many there are on the way.
        """
        grid, wanted = self.pricing.grids[board], self.wanted[board]
        back = float(cost @ wanted)
        if least <= back:
            cost, back = 0 * cost, 0.0
        found = grid.near_best(price - cost, wanted, least - back, self.deep, most, *work)
        return found if found is None else found[found @ price >= least - 1e-9 * abs(least)]


def _cost(held: list[Floats], price: Floats, wanted: Floats) -> tuple[float, Floats]:
    """Return the least that the patterns held so far are worth, and the costs that do it."""
    counts, parts = np.array(held).reshape(-1, len(price)), len(price)
    if not np.any(counts > wanted):
        return float(np.max(counts @ price, initial=0.0)), np.zeros(parts)
    rows = np.hstack((wanted - counts, -np.ones((len(held), 1))))
    worth = counts @ price
    answer = most(
        np.concatenate((np.zeros(parts), [-1.0])),
        sparse.csr_matrix(rows),
        -worth,
        np.concatenate((_MOST_OF_PRICE * price, [float(worth.max())])),
    )
    assert answer.value is not None and answer.x is not None
    return -answer.value, np.clip(answer.x[:parts], 0.0, _MOST_OF_PRICE * price)
