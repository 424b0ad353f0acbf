"""Whether boards may hold all parts when each board gives whole copies: branch and bound.

Prices alone let a board give half of one pattern and half of another, so that boards seem to hold
what no layout can take from them. Here the copies of a part on a board are whole: where the linear
answer has a fraction of a copy there, no more than the whole number below is tried, and no less
than the one above; either case changes prices on that board only, which the exact pricing takes as
it is (C. Barnhart and others, "Branch-and-price: column generation for solving huge integer
programs", Operations Research 46 (1998)). Boards that cannot do in any case cannot do at all.

Patterns in the linear answer that hold a part more often than it is wanted, or than the case
allows there, are shut out by ``slices``. A linear answer of whole copies that still mixes patterns
has one with too many of some part, so that there is a case to part by until no mixture is left.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.items import Floats
from scanner.placement.pricing import Pricing
from scanner.placement.programme import most
from scanner.placement.slices import Copies, Cover, allows, counts_of, narrower, over

# Board and part.
_Spot = tuple[int, int]

_MOST_CASES = 200
# Of one set of boards so many ways are priced at most for each level gone through: what cells of
# one size leave open had better be asked of finer ones.
_PRICED_A_LEVEL = 1500
_MOST_ROUNDS = 200
# A board is shut in slices in so many ways, each of which is priced, before a case is parted, and
# in so many where it cannot be parted.
_FEW_WAYS, _MOST_WAYS = 100, 200
_STEADY = 0.5
_WHOLE, _NOTHING = 1e-4, 1e-7
_RIGHT = 1 - 1e-6
# Parts of which more copies are allowed are not shut in: a slice for each is too many ways.
_FEW_COPIES = 3
# A board that is not shut in slices: one way, without bars.
_OPEN: Cover = ((),)
# A copy that a board must give and does not counts so many times against the answer.
_MISSING = 3.0


@dataclass(frozen=True, slots=True)
class _Prices:
    """Of a copy of each part (T,), and what a spot's limits add to it or take from it."""

    copy: Floats
    most: Mapping[_Spot, float] = field(default_factory=dict)
    least: Mapping[_Spot, float] = field(default_factory=dict)

    def on(self, board: int, allowed: Floats) -> Floats:
        """Return the prices on one board; nothing for parts that are not allowed there."""
        price = self.copy.copy()
        for spots, sign in ((self.most, -1.0), (self.least, 1.0)):
            for (b, t), extra in spots.items():
                if b == board:
                    price[t] += sign * extra
        price[allowed == 0] = 0.0
        return price


@dataclass(frozen=True, slots=True, eq=False)
class _Pattern:
    """What a board was found to hold: copies of each part (T,), and where they begin."""

    board: int
    counts: Floats
    copies: Copies


@dataclass(frozen=True, slots=True)
class _Answer:
    """A linear answer: the size it covers, its prices, and which patterns it takes how much of."""

    value: float
    prices: _Prices
    used: tuple[tuple[_Pattern, float], ...]

    def copies(self) -> dict[_Spot, float]:
        """Return the copies of each spot."""
        found: dict[_Spot, float] = {}
        for pattern, share in self.used:
            for t in map(int, np.flatnonzero(pattern.counts)):
                spot = pattern.board, t
                found[spot] = found.get(spot, 0.0) + share * float(pattern.counts[t])
        return found


@dataclass(frozen=True, slots=True)
class _Case:
    """So many copies at most, and at least, of some parts on some boards; where prices begin.

    ``covers``: the ways in which boards are shut in slices, as far as that is known.
    """

    most: Mapping[_Spot, int]
    least: Mapping[_Spot, int]
    prices: _Prices
    covers: Mapping[int, Cover]

    def allowed(self, board: int, wanted: Floats) -> Floats:
        """Return how many copies of each part (T,) the board may give."""
        found = wanted.copy()
        for (b, t), n in self.least.items():
            if b != board:
                # What another board must give is not wanted here.
                found[t] -= n
        for (b, t), n in self.most.items():
            if b == board:
                found[t] = min(found[t], n)
        return np.maximum(found, 0.0)

    def halves(
        self, spot: _Spot, below: int, prices: _Prices, covers: Mapping[int, Cover]
    ) -> tuple["_Case", "_Case"]:
        """Return the case with no more than ``below`` copies, and the one with more."""
        return (
            _Case({**self.most, spot: below}, self.least, prices, covers),
            _Case(self.most, {**self.least, spot: below + 1}, prices, covers),
        )


@dataclass(slots=True)
class WholeCopies:
    """Refutes sets of boards; what boards were found to hold serves for the next set, too."""

    pricing: Pricing
    size: Floats
    wanted: Floats
    deep: int
    is_over: Callable[[], bool]
    patterns: list[_Pattern] = field(default_factory=list)
    covers: dict[int, Cover] = field(default_factory=dict)
    _seen: set[tuple[int, bytes]] = field(default_factory=set)
    _left: int = 0

    def refutes(self, boards: Sequence[int], price: Floats) -> bool:
        """Whether these boards surely do not hold all parts; False says nothing.

        price: of a copy of each part, where to begin.
        """
        self._left = _PRICED_A_LEVEL * self.deep
        cases = [_Case({}, {}, _Prices(price), {b: self.covers.get(b, _OPEN) for b in boards})]
        for n in range(_MOST_CASES):
            if not cases:
                return True
            further, covers = self._settle(boards, cases.pop())
            if n == 0:
                # No case had limits of its own yet: these ways hold for the next set as well.
                self.covers |= covers
            if further is None or self.is_over():
                return False
            cases += further
        return False

    def _settle(
        self, boards: Sequence[int], case: _Case
    ) -> tuple[tuple[_Case, ...] | None, dict[int, Cover]]:
        """Return the cases that a case falls into, none where it is refuted; None for neither.

        And the ways in which its boards are shut in slices now.
        """
        goal = float(self.wanted @ self.size) * _RIGHT
        best, centre = float("inf"), case.prices
        covers = dict(case.covers)
        allowed = {b: case.allowed(b, self.wanted) for b in boards}
        answer, is_new = None, True
        for n in range(_MOST_ROUNDS):
            if answer is None:
                price = centre
            elif n % 3 == 2 or not is_new:
                price = answer.prices
            else:
                price = _between(centre, answer.prices)
            total, is_new = self._priced(boards, case, covers, allowed, price)
            if total < best:
                best, centre = total, price
            if best < goal:
                return (), covers
            if self.is_over() or self._left <= 0:
                return None, covers
            is_settled = not is_new and answer is not None and price is answer.prices
            answer = self._linear(boards, case, covers, allowed)
            if answer.value < goal and not is_settled:
                continue
            if _shut(covers, allowed, answer, _FEW_WAYS):
                answer = self._linear(boards, case, covers, allowed)
                continue
            cases = self._cases(case, answer, centre, covers, allowed)
            if cases is not None or not _shut(covers, allowed, answer, _MOST_WAYS):
                return cases, covers
            answer = self._linear(boards, case, covers, allowed)
        return None, covers

    def _cases(
        self,
        case: _Case,
        answer: _Answer,
        prices: _Prices,
        covers: Mapping[int, Cover],
        allowed: Mapping[int, Floats],
    ) -> tuple[_Case, ...] | None:
        """Return the two cases of the part that the linear answer splits most; None for none."""
        copies = answer.copies()
        split: dict[_Spot, float] = {}
        for spot, n in copies.items():
            share = n % 1.0
            if _WHOLE < share < 1 - _WHOLE:
                split[spot] = min(share, 1 - share) * float(self.size[spot[1]])
        if not split:
            for pattern, _ in answer.used:
                for t in map(int, np.flatnonzero(pattern.counts)):
                    spot = pattern.board, t
                    most = allowed[pattern.board][t]
                    if copies[spot] + 0.5 < pattern.counts[t] < most + 0.5:
                        split[spot] = float(self.size[t])
        if not split:
            return None
        spot = max(split, key=lambda one: split[one])
        return case.halves(spot, int(np.floor(copies[spot] + _WHOLE)), prices, covers)

    def _priced(
        self,
        boards: Sequence[int],
        case: _Case,
        covers: Mapping[int, Cover],
        allowed: Mapping[int, Floats],
        price: _Prices,
    ) -> tuple[float, bool]:
        """Return what cannot be beaten at these prices, and whether a board showed a new pattern.

        Prices above a copy's size help nothing: the bound is that of size covered.
        """
        total = float(self.wanted @ np.maximum(self.size - price.copy, 0.0))
        total += sum(price.most.get(spot, 0.0) * n for spot, n in case.most.items())
        total -= sum(price.least.get(spot, 0.0) * n for spot, n in case.least.items())
        is_new = False
        for b in boards:
            self._left -= len(covers[b])
            worth, held = self.pricing.within(b, price.on(b, allowed[b]), self.deep, covers[b])
            total += worth
            for copies in held:
                is_new |= self._add(b, copies)
        return total, is_new

    def _add(self, board: int, copies: Copies) -> bool:
        """Note what a board may hold; False where that was known."""
        key = (board, copies.tobytes())
        if not len(copies) or key in self._seen:
            return False
        self._seen.add(key)
        self.patterns.append(_Pattern(board, counts_of(copies, len(self.size)), copies))
        return True

    def _linear(
        self,
        boards: Sequence[int],
        case: _Case,
        covers: Mapping[int, Cover],
        allowed: Mapping[int, Floats],
    ) -> _Answer:
        """Return the size covered with fractions of patterns that were not shut out."""
        own = [p for p in self.patterns if p.board in boards and
               _is_open(p, covers[p.board], allowed[p.board])]  # fmt: skip
        if not own:
            return _Answer(0.0, _Prices(self.size), ())
        counts = np.array([p.counts for p in own])
        board = np.array([p.board for p in own])
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
        used = tuple((p, float(x)) for p, x in zip(own, answer.x, strict=False) if x > _NOTHING)
        return _Answer(answer.value, prices, used)


def _is_open(pattern: _Pattern, cover: Cover, allowed: Floats) -> bool:
    """Whether a pattern is one that the board may give in some case, or is not shut out yet."""
    if np.any(pattern.counts[allowed == 0] > 0):
        return False
    if not over(pattern.counts, allowed):
        return True
    return any(allows(bars, pattern.copies) for bars in cover)


def _shut(
    covers: dict[int, Cover], allowed: Mapping[int, Floats], answer: _Answer, ways: int
) -> bool:
    """Shut out a pattern a board that the answer takes and that has a part too often.

    False where there is none of few copies, or its board is shut in so many ways already.
    """
    worst: dict[int, tuple[float, _Pattern, int]] = {}
    for pattern, share in answer.used:
        most = allowed[pattern.board]
        often = [t for t in over(pattern.counts, most) if most[t] <= _FEW_COPIES]
        known = worst.get(pattern.board)
        if often and (known is None or share > known[0]):
            # Few copies allowed are few slices.
            part = min(often, key=lambda t: most[t])
            worst[pattern.board] = share, pattern, part
    is_shut = False
    for b, (_, pattern, part) in worst.items():
        if len(covers[b]) < ways:
            covers[b] = narrower(covers[b], pattern.copies, part, int(allowed[b][part]))
            is_shut = True
    return is_shut


def _between(centre: _Prices, duals: _Prices) -> _Prices:
    """Return prices between the best ones so far and those of the linear answer."""

    def mixed(known: Mapping[_Spot, float], new: Mapping[_Spot, float]) -> dict[_Spot, float]:
        return {s: _STEADY * known.get(s, 0.0) + (1 - _STEADY) * n for s, n in new.items()}

    return _Prices(
        _STEADY * centre.copy + (1 - _STEADY) * duals.copy,
        mixed(centre.most, duals.most),
        mixed(centre.least, duals.least),
    )
