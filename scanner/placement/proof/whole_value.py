"""What a lot is worth at most when each board gives whole copies, and none that nobody wants.

Prices alone (`class_bound`) let a board give half of one pattern and half of another, and more
copies of a part than are wanted. Here prices are sought at which the boards' best patterns within
what is wanted are worth least. At these a layout that is worth more than some goal takes from each
board a pattern that is worth nearly the most there: all of those are listed, and a whole-number
programme says what a choice of one a board is worth at most (R. Baldacci, N. Christofides and
A. Mingozzi, "An exact algorithm for the vehicle routing problem based on the set partitioning
formulation with additional cuts", Mathematical Programming 115 (2008)). The goal is lowered as far
as lists and time allow.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from scanner.placement.choosing.programme import most, most_whole
from scanner.placement.proof.closer_look import CloserLook, Maker
from scanner.placement.proof.pricing import Found, Pricing
from scanner.placement.proof.whole_choice import fullest, none_in_excess
from scanner.placement.proof.within_wanted import WithinWanted
from scanner.placement.wanted.items import Floats

# Patterns listed of a board while prices are sought, of which so many are remembered, and at last.
_FEW, _KEPT, _MANY = 5000, 100, 60_000
# The richest patterns of a board are sought within this share of what it is worth at most, then
# within twice as much, until there are some.
_FIRST_SHARE = 0.02
_MOST_ROUNDS, _STEADY, _NEAR_ENOUGH = 8, 0.5, 1e-3
# The goal lies this share below what the prices say, then so many times as much.
_FIRST_SLACK, _MORE_SLACK = 0.004, 1.7
# So many whole-number programmes are solved in all, of so many nodes.
_MOST_NODES, _MOST_CHOICES = 1000, 120
# ... and so many closest looks are taken, about a second each.
_MOST_CLOSEST = 24
_MOST_OF_VALUE = 0.98
_RIGHT = 1e-7
# A choice is the best one where the programme says so to within this share.
_SURE = 1e-4

Flags = NDArray[np.bool_]


@dataclass(slots=True)
class WholeValue:
    """The boards at one fineness; remembers what they were found to hold.

    most_copies: of each part on each board, (B, T).
    """

    pricing: Pricing
    value: Floats
    wanted: Floats
    is_over: Callable[[], bool]
    closer: CloserLook
    maker: Maker | None = None
    seconds_left: Callable[[], float] = lambda: float("inf")
    most_copies: Floats = field(init=False)
    found: Found = field(init=False)
    within: WithinWanted = field(init=False)
    _choices: int = 0

    def __post_init__(self) -> None:
        """Ask how many copies of one part alone each board may hold."""
        self.found = Found(len(self.pricing.grids))
        self.most_copies = np.zeros((len(self.pricing.grids), len(self.value)))
        for b in range(len(self.pricing.grids)):
            for t, n in enumerate(self.wanted):
                alone = np.zeros(len(self.value))
                alone[t] = 1.0
                held = n if self.is_over() else self.pricing.grids[b].most(alone, 0.9, 1)[0]
                self.most_copies[b, t] = min(n, np.floor(held + 1e-3))
        self.within = WithinWanted(self.pricing, self.most_copies, self.pricing.levels)

    def bound(self, price: Floats, best: float, reached: float) -> float:
        """Return what no layout is worth more than: ``best``, known so far, or less.

        price: of a copy of each part, where to begin; reached: the value of a known layout.
        """
        self.closer.closest_left = _MOST_CLOSEST
        settled = self._settled(price)
        if settled is None:
            return best
        total, price, tops = settled
        best, slack, is_final = min(best, total), _FIRST_SLACK * total, False
        while best > reached * (1 + _RIGHT):
            if self.is_over() or self._choices >= _MOST_CHOICES:
                break
            lists = self._lists(price, tops - slack)
            if lists is None:
                break
            goal, priced = total - slack, self.value > price
            if not is_final:
                most_there = self._most_of_choices(lists, priced, max(goal, reached))
                best = min(best, max(goal, most_there))
                # Longer lists hold that choice, too.
                is_final = most_there > goal
            reached = self._laid(lists, priced, reached)
            if goal <= reached or (is_final and self.maker is None):
                break
            slack = min(_MORE_SLACK * slack, total - reached)
        return max(best, reached)

    def _settled(self, price: Floats) -> tuple[float, Floats, Floats] | None:
        """Return the lowest sum found of what boards give in whole copies, its prices, the most.

        None where time ran out first, or patterns were too many. Prices are held near to the best
        ones so far (P. Wentges, "Weighted Dantzig-Wolfe decomposition for linear mixed-integer
        programming", International Transactions in Operational Research 4 (1997)).
        """
        lowest: tuple[float, Floats, Floats] | None = None
        price = np.minimum(price, _MOST_OF_VALUE * self.value)
        for _ in range(_MOST_ROUNDS):
            known = len(self.found.counts)
            tops = self._tops(self.value - price)
            if tops is None:
                break
            total = float(self.wanted @ price + tops.sum())
            if lowest is None or total < lowest[0]:
                lowest = total, price, tops
            linear, duals = self.found.prices(self.value, self.wanted)
            duals = np.minimum(duals, _MOST_OF_VALUE * self.value)
            is_new = len(self.found.counts) > known
            if lowest[0] - linear < _NEAR_ENOUGH * linear or (
                not is_new and np.allclose(price, duals)
            ):
                break
            price = _STEADY * lowest[1] + (1 - _STEADY) * duals if is_new else duals
        return lowest

    def _tops(self, gain: Floats) -> Floats | None:
        """Return the most of each board within what is wanted, (B,); remember the richest."""
        tops = np.zeros(len(self.pricing.grids))
        for b in range(len(tops)):
            if self.is_over():
                return None
            worth, cost, _ = self.within.most(b, gain)
            known, share = self._known(b, gain), _FIRST_SHARE
            while True:
                least = max(known - _RIGHT * worth, (1 - share) * worth)
                rich = self._listed(b, gain, cost, least, _FEW)
                if rich is None:
                    return None
                worths = rich @ gain
                if self.closer.is_quick:
                    rich, worths = self.closer.held_first(b, rich, worths)
                    # What was known may have been refused just now.
                    known = self._known(b, gain)
                if len(rich) or least <= known + _RIGHT * worth:
                    break
                share *= 2
            for n in np.argsort(-worths, kind="stable")[:_KEPT]:
                self.found.add_one(b, rich[n])
            # All that was not listed is worth less than the least that was.
            tops[b] = max(worths) if len(rich) else max(0.0, least)
        return tops

    def _known(self, board: int, gain: Floats) -> float:
        """Return the most of what a board was found to hold and did not refuse since."""
        own = [n for n, b in enumerate(self.found.board) if b == board]
        held = np.array([self.found.counts[n] for n in own]).reshape(-1, len(gain))
        return float(np.max(self.closer.left(board, held) @ gain, initial=0.0))

    def _listed(
        self, board: int, gain: Floats, cost: Floats, least: float, most_of: int
    ) -> Floats | None:
        """Return the patterns of a board worth ``least`` or more, all but the empty one."""
        cheapest = float(np.min(gain[gain > 0], initial=np.inf))
        if not np.isfinite(cheapest):
            return np.zeros((0, len(gain)))
        least = max(least, 0.5 * cheapest)
        return self.within.listed(board, gain, cost, least, most_of)

    def _lists(self, price: Floats, least: Floats) -> list[Floats] | None:
        """Return of each board all patterns (P, T) worth ``least`` (B,); None for too many."""
        lists = []
        for b in range(len(self.pricing.grids)):
            gain = self.value - price
            cost = self.within.most(b, gain)[1]
            listed = self._listed(b, gain, cost, float(least[b]), _MANY)
            if listed is None or self.is_over():
                return None
            lists.append(listed)
        return lists

    def _most_of_choices(self, lists: Sequence[Floats], priced: Flags, goal: float) -> float:
        """Return what one pattern a board is worth at most.

        Whatever is worth less than the goal is of no interest.
        """
        most_there = float("inf")
        while self._choices < _MOST_CHOICES:
            self._choices += 1
            lists = [self.closer.left(b, own) for b, own in enumerate(lists)]
            choice = _best_choice(
                [fullest(own) for own in lists], self.value, self.wanted, priced,
                goal, self.seconds_left(),
            )  # fmt: skip
            most_there = min(most_there, choice.most)
            if self.is_over() or choice.held is None or most_there <= goal:
                break
            if choice.most > choice.value * (1 + _SURE):
                break
            held = np.minimum(choice.held, self.most_copies)
            if any([self.closer.refuses(b, own) for b, own in enumerate(held)]):
                continue
            is_laid = self.maker.unlaid.may_hold if self.maker else _is_never_laid
            boards = range(len(held))
            if not self.closer.refused_closest(boards, list(held), is_laid, self.is_over):
                break
        return most_there

    def _laid(
        self,
        lists: Sequence[Floats],
        priced: Flags,
        reached: float,
    ) -> float:
        """Lay out the choices that are worth most; return what the best known layout is worth."""
        if self.maker is None:
            return reached
        while self._choices < _MOST_CHOICES:
            self._choices += 1
            lists = [self.maker.unlaid.left(b, own) for b, own in enumerate(lists)]
            choice = _best_choice(
                [fullest(own) for own in lists], self.value, self.wanted, priced,
                reached, self.seconds_left(),
            )  # fmt: skip
            held = choice.held
            if held is None or self.is_over() or choice.value <= reached * (1 + _RIGHT):
                break
            held = none_in_excess(held, self.wanted)
            if not any([self.maker.unlaid.refuses(b, own) for b, own in enumerate(held)]):
                reached = max(reached, self.maker.take(held))
                break
        return reached


def _is_never_laid(_board: int, _counts: Floats) -> bool:
    return False


@dataclass(frozen=True, slots=True)
class _Choice:
    """What a choice of patterns is worth at most, the best one found, (B, T), and its value."""

    most: float
    held: Floats | None
    value: float


def _best_choice(
    lists: Sequence[Floats],
    value: Floats,
    wanted: Floats,
    priced: Flags,
    goal: float,
    seconds: float,
) -> _Choice:
    """Choose one pattern a board at most, for most value within what is wanted.

    Parts without a price were not listed: all of them count.
    """
    boards = len(lists)
    counts = np.vstack(lists)
    board = np.repeat(np.arange(boards), [len(own) for own in lists])
    if not len(counts):
        return _Choice(float(value[~priced] @ wanted[~priced]), None, 0.0)
    asked = np.flatnonzero(priced)

    def programme(keep: NDArray[np.int64]) -> tuple[Floats, sparse.csr_matrix, Floats, Floats]:
        at_board = np.eye(boards)[:, board[keep]]
        given = np.hstack((-counts[keep][:, asked].T, np.eye(len(value))[asked]))
        rows = np.vstack((np.hstack((at_board, np.zeros((boards, len(value))))), given))
        limit = np.concatenate((np.ones(boards), np.zeros(len(asked))))
        gain = np.concatenate((np.zeros(len(keep)), value))
        return gain, sparse.csr_matrix(rows), limit, np.concatenate((np.ones(len(keep)), wanted))

    keep = np.arange(len(counts))
    linear = most(*programme(keep))
    assert linear.value is not None
    if linear.value <= goal:
        return _Choice(linear.value, None, 0.0)
    # What lies further below the best fractions than the goal does is in no better choice.
    worse = linear.prices[board] - counts[:, asked] @ linear.prices[boards:]
    keep = keep[worse <= linear.value - goal + 1e-6 * linear.value]
    found = most_whole(*programme(keep), _MOST_NODES, seconds)
    top = linear.value if found.bound is None else min(linear.value, found.bound)
    if found.x is None or found.value is None:
        return _Choice(top if found.bound is not None else linear.value, None, 0.0)
    taken = np.round(found.x[: len(keep)])
    held = np.eye(boards)[:, board[keep]] * taken @ counts[keep]
    return _Choice(top, held, found.value)
