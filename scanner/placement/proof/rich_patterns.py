"""What boards are worth at most at some prices in whole copies, and the patterns worth nearly that.

Listed from cells first. Single boards are asked closely only at prices near to the best: elsewhere
many patterns would be refused one by one, and it would show nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from scanner.placement.proof.closer_look import CloserLook
from scanner.placement.proof.pricing import Found, Pricing
from scanner.placement.proof.within_wanted import WithinWanted
from scanner.placement.wanted.items import Floats

# Patterns of a board, those on the way to them counted, of which so many of the richest are
# remembered. They are sought within this share of what the board is worth at most, then within
# twice as much, until there are some, or half way back where there are too many, unless what is
# left between is this little; the next time within a little more than the richest lay below it.
_MANY, _KEPT = 100_000, 300
_FIRST_SHARE, _LEAST_SHARE, _A_LITTLE_MORE, _NO_DIFFERENCE = 0.02, 0.005, 1.15, 0.002
# Single boards are asked closely where they are together worth no more than this too much.
_WORTH_ASKING = 0.06
RIGHT = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class _Rich:
    """The richest patterns (P, T) of a board and their worth, (P,), at some prices.

    worth: of the board at most as pricing tells; most: what a pattern within what is wanted is
    worth at most; least: what all those listed are worth; share: how far below ``worth`` others are
    sought next; cost: of a copy laid, (T,), as they are listed.
    """

    worth: float
    cost: Floats
    most: float
    least: float
    share: float
    listed: Floats
    gain: Floats

    def noted(self, board: int, found: Found) -> float:
        """Remember the richest; return what a pattern is worth at most."""
        for n in np.argsort(-self.gain, kind="stable")[:_KEPT]:
            found.add_one(board, self.listed[n])
        return self.most


@dataclass(slots=True)
class RichPatterns:
    """The boards at one fineness; remembers what they were found to hold."""

    pricing: Pricing
    wanted: Floats
    deep: int
    is_over: Callable[[], bool]
    closer: CloserLook
    found: Found = field(init=False)
    within: WithinWanted = field(init=False)
    _shares: dict[int, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with nothing found."""
        self.found = Found(len(self.pricing.grids))
        every = np.tile(self.wanted, (len(self.pricing.grids), 1))
        self.within = WithinWanted(self.pricing, every, self.deep)

    def worths(self, boards: Sequence[int], price: Floats) -> list[float]:
        """Return what each board's patterns are worth at most; all that is wanted costs 1."""
        rich = [self._rich(b, price) for b in boards]
        if not self.closer.is_quick or sum(one.most for one in rich) > 1 + _WORTH_ASKING:
            return [one.noted(b, self.found) for b, one in zip(boards, rich, strict=True)]
        return [self._asked(b, price, one) for b, one in zip(boards, rich, strict=True)]

    def listed(
        self, board: int, price: Floats, least: float, most: int, *work: int
    ) -> Floats | None:
        """Return all patterns (P, T) of a board worth ``least`` or more; None for too many."""
        cost = self.within.most(board, price)[1]
        return self.within.listed(board, price, cost, least, most, *work)

    def known(self, boards: Sequence[int]) -> list[tuple[int, Floats]]:
        """Return what these boards were found to hold and not refused since."""
        known = list[tuple[int, Floats]]()
        for b in boards:
            own = [held for at, held in zip(self.found.board, self.found.counts, strict=True)
                   if at == b]  # fmt: skip
            known += [(b, held) for held in self.closer.left(b, np.array(own))] if own else []
        return known

    def _most_known(self, board: int, price: Floats) -> float:
        return max((float(held @ price) for _, held in self.known([board])), default=0.0)

    def _rich(self, board: int, price: Floats, refused: _Rich | None = None) -> _Rich:
        """Return the richest patterns of a board, those that were refused since left out."""
        if refused is None:
            worth, cost, counts = self.within.most(board, price)
            self.found.add_one(board, np.minimum(counts, self.wanted))
            share = self._shares.get(board, _FIRST_SHARE)
            none = np.zeros((0, len(price)))
            refused = _Rich(worth, cost, worth, worth, share, none, none[:, 0])
        known, cost = self._most_known(board, price), refused.cost
        most_there, share = refused.least, refused.share
        tried, too_many = 1 - most_there / refused.worth if refused.worth else 0.0, float("inf")
        while most_there > known and too_many - tried > _NO_DIFFERENCE and not self.is_over():
            least = max(known - RIGHT, (1 - share) * refused.worth)
            rich = self.within.listed(board, price, cost, least, _MANY)
            if rich is None:
                too_many, share = share, (tried + share) / 2
                continue
            most_there, tried = least, share
            share = min(2 * share, (tried + too_many) / 2)
            rich = self.closer.left(board, rich)
            if len(rich):
                gain = rich @ price
                best = float(gain.max())
                below = _A_LITTLE_MORE * (1 - best / refused.worth)
                self._shares[board] = max(below, _LEAST_SHARE)
                return _Rich(refused.worth, cost, best, least, share, rich, gain)
        # None that is not known is worth more. What is known need not have been asked closely.
        own = [held for _, held in self.known([board]) if held @ price > most_there - RIGHT]
        listed = np.array(own).reshape(-1, len(price))
        return _Rich(refused.worth, cost, most_there, most_there, share, listed, listed @ price)

    def _asked(self, board: int, price: Floats, rich: _Rich) -> float:
        """Return what a board's patterns are worth at most that a closer look does not refuse."""
        while len(rich.listed):
            listed, gain = self.closer.held_first(board, rich.listed, rich.gain)
            if len(listed):
                most = max(float(gain[0]), rich.least)
                left = replace(rich, most=most, listed=listed, gain=gain)
                return left.noted(board, self.found)
            rich = self._rich(board, price, rich)
        return rich.most
