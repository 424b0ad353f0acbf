"""The bound of a cut class: prices by column generation, each bound with exact pricing.

For any price p at or above 0 of a copy of each part, no layout of the class is worth more than
wanted . p plus, board by board, the most that value - p buys there; so every round's sum is a
bound, whether or not the prices have settled (A. M. Geoffrion, "Lagrangean relaxation for integer
programming", Mathematical Programming Study 2 (1974)). Prices come from a linear programme over
what the boards were found to hold (P. C. Gilmore and R. E. Gomory, Operations Research 9 (1961)),
held near to the best ones so far (P. Wentges, "Weighted Dantzig-Wolfe decomposition for linear
mixed-integer programming", International Transactions in Operational Research 4 (1997)).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.items import Floats
from scanner.placement.programme import least_whole, most
from scanner.placement.section_grid import SectionGrid

_STEADY = 0.6
# Coarse cells find the prices, fine ones the bound.
_COARSE_LEVELS = 2
_MOST_ROUNDS = 60
_NEAR_ENOUGH = 5e-4
# So many sets of boards are refuted at most; one is where it holds this much too little.
_MOST_LIMITS = 60
_SHORT = 0.995
_MOST_NODES = 4000
_RIGHT = 1 - 1e-6


@dataclass(slots=True)
class Pricing:
    """All boards priced; remembers how far fine answers lie below coarse ones."""

    grids: Sequence[SectionGrid]
    shares: dict[tuple[int, int], float] = field(default_factory=dict)

    @property
    def levels(self) -> int:
        """How many levels the boards have."""
        return len(self.grids[0].levels)

    def at(self, price: Floats, deep: int, boards: Sequence[int] = ()) -> tuple[Floats, Floats]:
        """Return the most on each board (B,), and what it would hold (B, T)."""
        worth = np.zeros(len(self.grids))
        counts = np.zeros((len(self.grids), len(price)))
        for b in boards or range(len(self.grids)):
            guess = self.shares.get((b, deep), 0.97)
            worth[b], share, counts[b] = self.grids[b].most(price, guess, deep)
            self.shares[b, deep] = share - 0.003
        return worth, counts


@dataclass(slots=True)
class Found:
    """What boards were found to hold: the columns of the linear programme."""

    boards: int
    board: list[int] = field(default_factory=list)
    counts: list[Floats] = field(default_factory=list)
    _seen: set[tuple[int, bytes]] = field(default_factory=set)

    def add(self, counts: Floats) -> bool:
        """Note what each board holds, (B, T); False where nothing was new."""
        known = len(self.board)
        for b, own in enumerate(counts):
            key = (b, own.tobytes())
            if own.any() and key not in self._seen:
                self._seen.add(key)
                self.board.append(b)
                self.counts.append(own)
        return len(self.board) > known

    def prices(self, value: Floats, wanted: Floats) -> tuple[float, Floats]:
        """Return the best value with fractions of these, and the price of a copy of each part."""
        if not self.counts:
            return 0.0, np.zeros(len(value))
        counts, board = np.array(self.counts), np.array(self.board)
        which, part = np.nonzero(counts)
        matrix = sparse.csr_matrix(
            (
                np.concatenate((np.ones(len(board)), counts[which, part])),
                (
                    np.concatenate((board, self.boards + part)),
                    np.concatenate((np.arange(len(board)), which)),
                ),
            ),
            shape=(self.boards + len(value), len(board)),
        )
        limit = np.concatenate((np.ones(self.boards), wanted))
        answer = most(counts @ value, matrix, limit, np.ones(len(board)))
        assert answer.value is not None
        return answer.value, np.maximum(answer.prices[self.boards :], 0.0)


def class_value_bound(
    pricing: Pricing,
    value: Floats,
    wanted: Floats,
    reached: float,
    is_over: Callable[[], bool],
) -> float:
    """Return what no layout of the class is worth more than; infinity where time ran out first.

    reached: the value of a known layout.
    """
    best, centre = float("inf"), 0.3 * value
    for deep in (_COARSE_LEVELS, pricing.levels):
        best, centre = _settle(pricing, value, wanted, centre, reached, deep, is_over)
    return best


def _settle(
    pricing: Pricing,
    value: Floats,
    wanted: Floats,
    price: Floats,
    enough: float,
    deep: int,
    is_over: Callable[[], bool],
    boards: Sequence[int] = (),
    goal: float = float("inf"),
) -> tuple[float, Floats]:
    """Return the lowest bound on these boards (none: all), and the prices that give it.

    It need not be lower than ``enough``, nor is it sought where it is no lower than ``goal``.
    """
    found = Found(len(pricing.grids))
    best, centre = float("inf"), price
    for _ in range(_MOST_ROUNDS):
        if is_over():
            break
        worth, counts = pricing.at(value - price, deep, boards)
        is_new = found.add(counts)
        total = float(wanted @ price) + float(worth.sum())
        if total < best:
            best, centre = total, price
        linear, duals = found.prices(value, wanted)
        is_settled = not is_new and np.allclose(price, duals)
        if best - linear < _NEAR_ENOUGH * best or not enough < best or linear > goal or is_settled:
            break
        price = _STEADY * centre + (1 - _STEADY) * duals if is_new else duals
    return best, centre


def class_area_bound(
    pricing: Pricing,
    size: Floats,
    wanted: Floats,
    area: Floats,
    reached: float,
    is_over: Callable[[], bool],
) -> float:
    """Return the least area of boards on which a layout of the class has room for all parts.

    The cheapest boards that all limits allow are asked whether they hold everything; where prices
    say that they do not, those prices are one more limit: at them the boards opened must be worth
    what is wanted. ``size``: mm2 of a copy; ``area`` of each board; ``reached``: of a known layout.
    """
    goal = float(wanted @ size)
    if goal <= 0:
        return 0.0
    price, proven = np.zeros(len(size)), 0.0
    rows: list[Floats] = []
    for deep in (_COARSE_LEVELS, pricing.levels):
        for _ in range(_MOST_LIMITS):
            # Boards that hold everything are worth what is wanted at any prices, these, too.
            need = float(wanted @ (size - price))
            if is_over() or need <= 0:
                return proven
            rows.append(pricing.at(size - price, deep)[0] / need)
            boards, least = _cheapest(np.array(rows), area)
            proven = max(proven, least)
            if not boards or proven >= reached * _RIGHT:
                return min(proven, reached)
            worth, price = _settle(
                pricing, size, wanted, price, _SHORT * goal, deep, is_over, boards, goal * _RIGHT
            )
            if worth >= goal * _RIGHT:
                break
    return min(proven, reached)


def _cheapest(rows: Floats, area: Floats) -> tuple[list[int], float]:
    """Return the boards of least area that keep all limits, and what that area is at least."""
    ones = np.ones(len(area))
    found = least_whole(area, rows, np.full(len(rows), 1 - 1e-7), 0 * ones, ones, _MOST_NODES)
    if found.bound is None or found.x is None:
        return [], 0.0
    return [int(b) for b in np.flatnonzero(found.x > 0.5)], float(found.bound) * _RIGHT
