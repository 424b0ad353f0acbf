"""The master problem: which pattern for which board (set packing over the patterns found so far).

P. C. Gilmore and R. E. Gomory, "A linear programming approach to the cutting-stock problem",
Operations Research 9 (1961): the prices of a linear programme over known patterns say what a new
pattern must be worth. HiGHS, as scipy carries it, solves both the linear and the whole-number form.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Self

import numpy as np
from scipy import sparse

from scanner.placement.choosing.patterns import Pattern
from scanner.placement.choosing.programme import most, most_whole
from scanner.placement.wanted.items import Floats, Ints, Types

_LEAST_VALUE_MM2 = 1e-6


@dataclass(slots=True)
class Pool:
    """Patterns found so far, none twice; knows the value and the wanted copies of every type."""

    value: Floats
    wanted: Ints
    patterns: list[Pattern] = field(default_factory=list)
    _seen: set[tuple[int, bytes]] = field(default_factory=set)

    @classmethod
    def of(cls, types: Types) -> Self:
        """Return an empty pool; a part without priority still wants a place."""
        return cls(np.maximum(types.value, _LEAST_VALUE_MM2), types.wanted)

    def add(self, pattern: Pattern) -> bool:
        """Keep a pattern; False where the same parts on the same board are known already."""
        key = (pattern.board, pattern.counts.tobytes())
        if key in self._seen or not len(pattern.places):
            return False
        self._seen.add(key)
        self.patterns.append(pattern)
        return True

    def linear(self, boards: frozenset[int]) -> tuple[float, Floats, Floats]:
        """Return the best value with fractions of patterns, price of each type and each board."""
        chosen = [p for p in self.patterns if p.board in boards]
        rows = sorted(boards)
        if not chosen:
            return 0.0, self.value.copy(), np.zeros(len(rows))
        matrix, limit = self._constraints(chosen, rows)
        found = most(self._gain(chosen), matrix, limit, self._upper(chosen))
        assert found.value is not None
        types_from = len(rows)
        return found.value, np.maximum(found.prices[types_from:], 0.0), found.prices[:types_from]

    def fractions(self, boards: frozenset[int], left: Ints) -> tuple[Floats, Floats]:
        """Return how much of each known pattern the linear answer for these boards takes.

        Only patterns that the copies left allow count. Also returns the price of each type.
        """
        share = np.zeros(len(self.patterns))
        fits = [
            n
            for n, p in enumerate(self.patterns)
            if p.board in boards and not np.any(p.counts > left)
        ]
        if not fits:
            return share, self.value.copy()
        chosen = [self.patterns[n] for n in fits]
        rows = sorted(boards)
        matrix, limit = self._constraints(chosen, rows)
        upper = np.concatenate((np.ones(len(chosen)), left.astype(np.float64)))
        found = most(self._gain(chosen), matrix, limit, upper)
        assert found.x is not None
        share[fits] = found.x[: len(chosen)]
        return share, np.maximum(found.prices[len(rows) :], 0.0)

    def _gain(self, chosen: list[Pattern]) -> Floats:
        return np.concatenate((np.zeros(len(chosen)), self.value))

    def _upper(self, chosen: list[Pattern]) -> Floats:
        return np.concatenate((np.ones(len(chosen)), self.wanted.astype(np.float64)))

    def whole(
        self,
        boards: frozenset[int],
        linear: tuple[float, Floats, Floats],
        known: float,
        nodes: int,
        seconds: float,
        bonus: Callable[[Pattern], float] | None = None,
    ) -> tuple[Pattern, ...]:
        """Return the best choice of whole patterns that beats ``known``, or an empty one.

        ``bonus``: what a pattern counts beside its value, ``known`` included. A pattern whose
        reduced cost is worse than the gap between the linear value and the known one cannot be in
        a better choice, so it is left out.
        """
        best, price, board_price = linear
        row = {b: i for i, b in enumerate(sorted(boards))}
        own = [p for p in self.patterns if p.board in boards]
        more = [0.0 if bonus is None else bonus(p) for p in own]
        highest = dict.fromkeys(boards, 0.0)
        for p, extra in zip(own, more, strict=True):
            highest[p.board] = max(highest[p.board], extra)
        slack = best + sum(highest.values()) - known + 1e-6 * abs(best)
        kept = [
            n
            for n, p in enumerate(own)
            if float(p.counts @ price) - board_price[row[p.board]] + more[n] - highest[p.board]
            >= -slack
        ]
        chosen = [own[n] for n in kept]
        if not chosen or slack < 0:
            return ()
        matrix, limit = self._constraints(chosen, sorted(boards))
        gain = self._gain(chosen)
        gain[: len(chosen)] += [more[n] for n in kept]
        found = most_whole(gain, matrix, limit, self._upper(chosen), nodes, seconds)
        if found.x is None or found.value is None or found.value <= known * (1 + 1e-9):
            return ()
        return tuple(p for p, x in zip(chosen, found.x, strict=False) if x > 0.5)

    def _constraints(
        self, chosen: list[Pattern], boards: list[int]
    ) -> tuple[sparse.csr_matrix, Floats]:
        """One pattern a board; of each type no more counts than the patterns hold."""
        row = {b: i for i, b in enumerate(boards)}
        types = len(self.value)
        counts = np.array([p.counts for p in chosen])
        which, kind = np.nonzero(counts)
        at_board = np.array([row[p.board] for p in chosen])
        rows = np.concatenate((at_board, len(boards) + kind, len(boards) + np.arange(types)))
        columns = np.concatenate((np.arange(len(chosen)), which, len(chosen) + np.arange(types)))
        values = np.concatenate((np.ones(len(chosen)), -counts[which, kind], np.ones(types)))
        shape = (len(boards) + types, len(chosen) + types)
        matrix = sparse.csr_matrix((values, (rows, columns)), shape=shape)
        return matrix, np.concatenate((np.ones(len(boards)), np.zeros(types)))
