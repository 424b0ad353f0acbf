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

from scanner.placement.proof.bars import Lines
from scanner.placement.wanted.items import Floats

_LEAST_STEP = 1e-3
_MOST_LIMITS = 25
# A set of boards is refuted where its worth falls below what is wanted; steps aim this far below.
_WELL_BELOW = 0.97
_STEPS_FOR_OTHERS = 15
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
    best_at: tuple[Floats, Floats] | None = None
    _way: tuple[Floats, Floats] | None = None
    _step: float = 1.0
    _since: int = 0

    def move(self, total: float, slope_price: Floats, slope_along: Floats, goal: float) -> bool:
        """Note what was found here and step on; False where no step is worth it."""
        if total < self.best - 1e-6 * abs(self.best) or self.best_at is None:
            self.best, self.best_at = total, (self.price.copy(), self.along.copy())
            self._since = 0
        else:
            self._since += 1
            if self._since >= _PATIENCE:
                self._step, self._since, self._way = self._step / 2, 0, None
                self.price, self.along = (array.copy() for array in self.best_at)
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
    """Return an upper bound on the value placed; ``reached`` is the value of a known layout.

    ``value`` (T,) of a copy of each part, ``wanted`` (T,) copies of it; ``lines`` by board.
    """
    return _descend(lines, value, wanted, reached, evaluations).best


def _descend(
    lines: Sequence[tuple[Lines, Lines]],
    value: Floats,
    wanted: Floats,
    goal: float,
    evaluations: int,
) -> _Descent:
    boards, types = len(lines), len(value)
    at = _Descent(value, np.zeros(types), np.tile(value / 2, (boards, 1)))
    for _ in range(evaluations):
        worth, slope_along, counts = _worths(lines, value - at.price, at.along)
        total = float(wanted @ at.price) + float(worth.sum())
        if not at.move(total, wanted - counts.sum(axis=0), slope_along, goal):
            break
    return at


def _worths(
    lines: Sequence[tuple[Lines, Lines]], price: Floats, along: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return what each board is worth at most, how that changes with its share, and its copies."""
    worth = np.zeros(len(lines))
    slope, counts = np.zeros_like(along), np.zeros_like(along)
    for b, (lengthwise, crosswise) in enumerate(lines):
        most_along, copies_along = lengthwise.most(along[b])
        most_across, counts[b] = crosswise.most(price - along[b])
        worth[b] = most_along + most_across
        slope[b] = copies_along - counts[b]
    return worth, slope, counts


def refuting_limit(
    lines: Sequence[tuple[Lines, Lines]],
    size: Floats,
    wanted: Floats,
    boards: Sequence[int],
    evaluations: int,
) -> tuple[Floats, float] | None:
    """Return a limit (as ``area_limits``) that these boards alone break, or None.

    None says nothing: perhaps they hold all parts, perhaps it is only not proven.
    """
    goal = float(wanted @ size)
    at = _descend([lines[b] for b in boards], size, wanted, _WELL_BELOW * goal, evaluations)
    if at.best_at is None or at.best >= goal * (1 - 1e-6):
        return None
    price = np.maximum(0.0, size - at.best_at[0])
    along = np.tile(price / 2, (len(lines), 1))
    along[list(boards)] = at.best_at[1]
    others = [b for b in range(len(lines)) if b not in boards]
    for b in others:
        own = _Descent(size, np.zeros(len(size)), along[b : b + 1].copy())
        for _ in range(_STEPS_FOR_OTHERS):
            worth, slope, _ = _worths(lines[b : b + 1], price, own.along)
            if not own.move(float(worth[0]), np.zeros(len(size)), slope, 0.0):
                break
        if own.best_at is not None:
            along[b] = own.best_at[1][0]
    worth, _, _ = _worths(lines, price, along)
    return worth, float(wanted @ price)


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
    boards = len(lines)
    start = size * float(area.sum()) / max(1.0, float(wanted @ size))
    start = np.minimum(start, 1.6 * size)
    at = _Descent(size, start, np.tile(start / 2, (boards, 1)))
    limits = []
    for _ in range(evaluations):
        worth, slope_along, counts = _worths(lines, at.price, at.along)
        # A board that is worth less than its area stays shut and has no say.
        slope_along[worth <= area] = 0.0
        slope_price = counts[worth > area].sum(axis=0) - wanted
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
