"""Whether boards may hold all parts when each board gives whole copies: branch and bound.

Prices alone let a board give half of one pattern and half of another, so that boards seem to hold
what no layout can take from them. Here the copies of a part on a board are whole: where the linear
answer has a fraction of a copy there, no more than the whole number below is tried, and no less
than the one above; either case changes prices on that board only, which the exact pricing takes as
it is (C. Barnhart and others, "Branch-and-price: column generation for solving huge integer
programs", Operations Research 46 (1998)). Boards that cannot do in any case cannot do at all.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.items import Floats
from scanner.placement.pricing import Found, Pricing
from scanner.placement.programme import most

# Board and part.
_Spot = tuple[int, int]

_MOST_CASES = 200
_MOST_ROUNDS = 60
_STEADY = 0.5
_WHOLE, _NOTHING = 1e-4, 1e-7
_RIGHT = 1 - 1e-6
# A copy that a board must give and does not counts so many times against the answer.
_MISSING = 3.0


@dataclass(frozen=True, slots=True)
class _Prices:
    """Of a copy of each part (T,), and what a spot's limits add to it or take from it."""

    copy: Floats
    most: Mapping[_Spot, float] = field(default_factory=dict)
    least: Mapping[_Spot, float] = field(default_factory=dict)

    def on(self, board: int, barred: set[_Spot]) -> Floats:
        """Return the prices on one board; nothing for parts that are barred there."""
        price = self.copy.copy()
        for spots, sign in ((self.most, -1.0), (self.least, 1.0)):
            for (b, t), extra in spots.items():
                if b == board:
                    price[t] += sign * extra
        for b, t in barred:
            if b == board:
                price[t] = 0.0
        return price


@dataclass(frozen=True, slots=True)
class _Case:
    """So many copies at most, and at least, of some parts on some boards; where prices begin."""

    most: Mapping[_Spot, int]
    least: Mapping[_Spot, int]
    prices: _Prices

    @property
    def barred(self) -> set[_Spot]:
        return {spot for spot, n in self.most.items() if n == 0}

    def halves(self, spot: _Spot, copies: float, prices: _Prices) -> tuple["_Case", "_Case"]:
        """Return the case with no more than the whole number below, and with no less than above."""
        below = int(np.floor(copies))
        return (
            _Case({**self.most, spot: below}, self.least, prices),
            _Case(self.most, {**self.least, spot: below + 1}, prices),
        )


@dataclass(slots=True)
class WholeCopies:
    """Refutes sets of boards; what boards were found to hold serves for the next set, too."""

    pricing: Pricing
    size: Floats
    wanted: Floats
    deep: int
    is_over: Callable[[], bool]
    found: Found = field(init=False)

    def __post_init__(self) -> None:
        """Begin with nothing found."""
        self.found = Found(len(self.pricing.grids))

    def refutes(self, boards: Sequence[int], price: Floats) -> bool:
        """Whether these boards surely do not hold all parts; False says nothing.

        price: of a copy of each part, where to begin.
        """
        cases = [_Case({}, {}, _Prices(price))]
        for _ in range(_MOST_CASES):
            if not cases:
                return True
            further = self._settle(boards, cases.pop())
            if further is None or self.is_over():
                return False
            cases += further
        return False

    def _settle(self, boards: Sequence[int], case: _Case) -> tuple[_Case, ...] | None:
        """Return the cases that a case falls into, none where it is refuted; None for neither."""
        goal = float(self.wanted @ self.size) * _RIGHT
        best, centre = float("inf"), case.prices
        copies: dict[_Spot, float] = {}
        duals = None
        for n in range(_MOST_ROUNDS):
            if duals is None or n % 3 == 2:
                price = centre if duals is None else duals
            else:
                price = _between(centre, duals)
            total, is_new = self._priced(boards, case, price)
            if total < best:
                best, centre = total, price
            if best < goal:
                return ()
            if self.is_over():
                return None
            value, following, copies = self._linear(boards, case)
            is_settled = not is_new and price is duals
            duals = following
            if value >= goal or is_settled:
                break
        return self._cases(case, copies, centre)

    def _cases(
        self, case: _Case, copies: Mapping[_Spot, float], prices: _Prices
    ) -> tuple[_Case, ...] | None:
        """Return the two cases of the largest part that the linear answer splits; None for none."""

        def weight(spot: _Spot) -> float:
            share = copies[spot] % 1.0
            return min(share, 1 - share) * float(self.size[spot[1]])

        split = [s for s, n in copies.items() if _WHOLE < n % 1.0 < 1 - _WHOLE]
        if not split:
            return None
        spot = max(split, key=weight)
        return case.halves(spot, copies[spot], prices)

    def _priced(self, boards: Sequence[int], case: _Case, price: _Prices) -> tuple[float, bool]:
        """Return what cannot be beaten at these prices, and whether a board showed a new pattern.

        Prices above a copy's size help nothing: the bound is that of size covered.
        """
        total = float(self.wanted @ np.maximum(self.size - price.copy, 0.0))
        total += sum(price.most.get(spot, 0.0) * n for spot, n in case.most.items())
        total -= sum(price.least.get(spot, 0.0) * n for spot, n in case.least.items())
        barred, is_new = case.barred, False
        for b in boards:
            worth, counts = self.pricing.of(b, price.on(b, barred), self.deep)
            total += worth
            is_new |= self.found.add_one(b, counts)
        return total, is_new

    def _linear(
        self, boards: Sequence[int], case: _Case
    ) -> tuple[float, _Prices, dict[_Spot, float]]:
        """Return the size covered with fractions of patterns, prices, and copies of each spot."""
        barred = case.barred
        own = [
            n
            for n, b in enumerate(self.found.board)
            if b in boards
            and not any(self.found.counts[n][t] for b_barred, t in barred if b_barred == b)
        ]
        if not own:
            return 0.0, _Prices(self.size), {}
        counts = np.array([self.found.counts[n] for n in own])
        board = np.array([self.found.board[n] for n in own])
        high = [spot for spot, n in case.most.items() if n > 0]
        low = list(case.least)
        parts, patterns = len(self.size), len(own)
        rows = [np.hstack((-counts.T, np.eye(parts), np.zeros((parts, len(low)))))]
        rest = np.zeros(parts + len(low))
        rows += [np.concatenate(((board == b).astype(float), rest))[None] for b in boards]
        rows += [np.concatenate(((board == b) * counts[:, t], rest))[None] for b, t in high]
        for n, (b, t) in enumerate(low):
            missing = rest.copy()
            missing[parts + n] = -1.0
            rows.append(np.concatenate(((board == b) * -counts[:, t], missing))[None])
        limit = np.concatenate((
            np.zeros(parts), np.ones(len(boards)), [case.most[spot] for spot in high],
            [-case.least[spot] for spot in low],
        ))  # fmt: skip
        gain = np.concatenate((
            np.zeros(patterns), self.size, [-_MISSING * self.size[t] for _, t in low],
        ))  # fmt: skip
        upper = np.concatenate((np.ones(patterns), self.wanted, [float(n) for n in
                                (case.least[spot] for spot in low)]))  # fmt: skip
        answer = most(gain, sparse.csr_matrix(np.vstack(rows)), limit, upper)
        assert answer.value is not None and answer.x is not None
        price = np.maximum(answer.prices, 0.0)
        first = parts + len(boards)
        prices = _Prices(
            price[:parts],
            dict(zip(high, price[first:], strict=False)),
            dict(zip(low, price[first + len(high) :], strict=False)),
        )
        copies: dict[_Spot, float] = {}
        for x, b, held in zip(answer.x, board, counts, strict=False):
            for t in map(int, np.flatnonzero(held)) if x > _NOTHING else ():
                spot = int(b), t
                copies[spot] = copies.get(spot, 0.0) + float(x * held[t])
        return answer.value, prices, copies


def _between(centre: _Prices, duals: _Prices) -> _Prices:
    """Return prices between the best ones so far and those of the linear answer."""

    def mixed(known: Mapping[_Spot, float], new: Mapping[_Spot, float]) -> dict[_Spot, float]:
        return {s: _STEADY * known.get(s, 0.0) + (1 - _STEADY) * n for s, n in new.items()}

    return _Prices(
        _STEADY * centre.copy + (1 - _STEADY) * duals.copy,
        mixed(centre.most, duals.most),
        mixed(centre.least, duals.least),
    )
