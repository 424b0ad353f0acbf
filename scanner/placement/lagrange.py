"""Prices that bring the bound near to the layouts: Lagrangians with exact pricing.

For any price p of a copy at or above 0, no layout is worth more than wanted . p plus, board by
board, the most that the rest of the value buys there. What a board gives at most is bounded by its
bars along and its bars across (``bars``); each board divides the value between the two as suits it
best. Every evaluation is a bound; subgradient steps look for a low one (B. Polyak, "Minimization
of unsmooth functionals", USSR Computational Mathematics and Mathematical Physics 9 (1969)).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scanner.placement.bars import Lines
from scanner.placement.items import Floats

_LEAST_STEP = 1e-3
_MOST_LIMITS = 25
_KEPT = 0.9
# After so many evaluations without a better bound the step is halved.
_PATIENCE = 12


@dataclass(slots=True)
class _Descent:
    """Subgradient steps on prices (T,) and on each board's share along (B, T)."""

    scale: Floats
    price: Floats
    along: Floats
    best: float = float("inf")
    _best_at: tuple[Floats, Floats] | None = None
    _way: tuple[Floats, Floats] | None = None
    _step: float = 1.0
    _since: int = 0

    def move(self, total: float, slope_price: Floats, slope_along: Floats, goal: float) -> bool:
        """Note what was found here and step on; False where no step is worth it."""
        if total < self.best - 1e-6 * abs(self.best) or self._best_at is None:
            self.best, self._best_at = total, (self.price.copy(), self.along.copy())
            self._since = 0
        else:
            self._since += 1
            if self._since >= _PATIENCE:
                self._step, self._since, self._way = self._step / 2, 0, None
                self.price, self.along = (array.copy() for array in self._best_at)
        if self.best <= goal + 1e-4 * abs(goal) or self._step < _LEAST_STEP:
            return False
        # Prices stay at or above 0: a slope that points there does not count.
        slope_price = np.where((self.price <= 0) & (slope_price > 0), 0.0, slope_price)
        # Dear parts move in larger steps; most of the last direction is kept, against zigzag.
        way = (self.scale * slope_price, self.scale * slope_along)
        if self._way is not None:
            way = (way[0] + _KEPT * self._way[0], way[1] + _KEPT * self._way[1])
        steepness = float(way[0] @ way[0] + np.sum(way[1] ** 2))
        if steepness <= 0:
            return False
        stride = self._step * (total - goal) / steepness * self.scale
        self.price = np.maximum(0.0, self.price - stride * way[0])
        self.along = self.along - stride * way[1]
        self._way = way
        return True


def lowest_value_bound(
    lines: Sequence[tuple[Lines, Lines]],
    value: Floats,
    wanted: Floats,
    reached: float,
    evaluations: int,
) -> float:
    """Return an upper bound on the value placed; ``reached`` is the value of a known layout."""
    boards, types = len(lines), len(value)
    at = _Descent(value, np.zeros(types), np.tile(value / 2, (boards, 1)))
    for _ in range(evaluations):
        total = float(wanted @ at.price)
        slope_price = wanted.copy()
        slope_along = np.zeros((boards, types))
        for b, (along, across) in enumerate(lines):
            most_along, counts_along = along.most(at.along[b])
            most_across, counts_across = across.most(value - at.price - at.along[b])
            total += most_along + most_across
            slope_price -= counts_across
            slope_along[b] = counts_along - counts_across
        if not at.move(total, slope_price, slope_along, reached):
            break
    return at.best


def area_limits(
    lines: Sequence[tuple[Lines, Lines]],
    size: Floats,
    wanted: Floats,
    area: Floats,
    reached: float,
    evaluations: int,
) -> list[tuple[Floats, float]]:
    """Return limits (worth of each board, worth of all that is wanted) near the dearest prices.

    Boards that hold all parts have worth enough in every limit. ``size``: of a copy, mm2, where
    the prices begin; ``area`` of each board; ``reached``: the area of a known layout.
    """
    boards, types = len(lines), len(size)
    start = size * float(area.sum()) / max(1.0, float(wanted @ size))
    start = np.minimum(start, 1.6 * size)
    at = _Descent(size, start, np.tile(start / 2, (boards, 1)))
    limits = []
    for _ in range(evaluations):
        worth = np.zeros(boards)
        slope_price = -wanted.copy()
        slope_along = np.zeros((boards, types))
        for b, (along, across) in enumerate(lines):
            most_along, counts_along = along.most(at.along[b])
            most_across, counts_across = across.most(at.price - at.along[b])
            worth[b] = most_along + most_across
            if worth[b] > area[b]:
                slope_price += counts_across
                slope_along[b] = counts_along - counts_across
        need = float(wanted @ at.price)
        limits.append((worth, need))
        least = need - float(np.maximum(0.0, worth - area).sum())
        if not at.move(-least, slope_price, slope_along, -reached):
            break
    return _nearest(limits, area)


def _nearest(limits: list[tuple[Floats, float]], area: Floats) -> list[tuple[Floats, float]]:
    """Return the limits that ask for most area on their own, at most a handful."""
    asks = [need - float(np.maximum(0.0, worth - area).sum()) for worth, need in limits]
    order = np.argsort(-np.array(asks), kind="stable")
    return [limits[n] for n in order[:_MOST_LIMITS]]
