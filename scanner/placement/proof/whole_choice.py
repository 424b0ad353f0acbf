"""Some choice of one listed pattern a board that gives every copy, or that there is none.

A search through the lists, held to what they are worth at most at the prices they were made for
(`kernels.whole_choice`), answers within hundredths of a second where a whole-number programme over
the same lists took half a minute; that programme is asked only what the search leaves open.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.choosing.programme import any_whole, most
from scanner.placement.kernels.whole_choice import first_choice
from scanner.placement.wanted.items import Floats

_NARROWINGS = 6
_MOST_NODES = 3000
# Steps of the search: about five seconds, and a good half of one; and those of one second.
_MOST_STEPS, _QUICK_STEPS, _STEPS_A_SECOND = 200_000_000, 20_000_000, 40_000_000
_RIGHT = 1e-6
# Copies are counted from 1 in a byte, and one more must not begin again at 0.
_MOST_IN_A_BYTE = 253
_MOST_BITS = 62
# No board holds everything so many times over.
OVER = 9.0


@dataclass(slots=True)
class Lists:
    """What boards may give, and what is wanted of all of them together.

    listed: of each board all patterns (P, T) of whole copies that at ``price`` may be part of
    holding everything; what holds less is among them where it may be, too. ``is_refuted``: whether
    prices alone say that no choice holds everything. is_part: whether only some of the patterns are
    listed: what holds less counts as listed then, and that no choice was found says nothing, so
    that none is sought for long.
    """

    listed: list[Floats]
    wanted: Floats
    price: Floats
    is_refuted: bool = False
    is_part: bool = False
    _prices: Floats = field(init=False)
    _least: list[Floats] = field(init=False)
    _full: list[Floats] = field(init=False)

    def __post_init__(self) -> None:
        """Find prices that leave few patterns."""
        self._prices = self.price[None] * (self.wanted > 0)
        self._full = [fullest(own) for own in self.listed]
        self._least = [np.full(1, -np.inf) for _ in self.listed]
        for _ in range(_NARROWINGS):
            before = sum(map(len, self._full))
            self.is_refuted = self.is_refuted or min(map(len, self._full)) == 0
            if self.is_refuted:
                return
            price = _prices(self._full, self.wanted)
            best = [float((own @ price).max()) for own in self._full]
            slack = sum(best) - float(self.wanted @ price)
            self.is_refuted = slack < -_RIGHT
            self._prices = np.vstack((self._prices, price))
            for b, top in enumerate(best):
                least = top - max(slack, 0.0) - _RIGHT
                self._least[b] = np.append(self._least[b], least)
                self._full[b] = self._full[b][self._full[b] @ price >= least]
            if sum(map(len, self._full)) == before:
                return

    def copy(self) -> "Lists":
        """Return lists of which others may be left out."""
        same = copy(self)
        same.listed, same._full = list(self.listed), list(self._full)
        return same

    def leave_out(self, at: int, counts: Floats) -> None:
        """Leave out of one board's list what holds so many copies, (T,), and more."""
        self.listed[at] = self.listed[at][~np.all(self.listed[at] >= counts, axis=1)]
        full = fullest(self.listed[at])
        self._full[at] = full[np.all(full @ self._prices.T >= self._least[at], axis=1)]
        self.is_refuted = self.is_refuted or not len(self._full[at])

    def choice(
        self, is_to_be_laid: bool = False, seconds: float = float("inf")
    ) -> tuple[list[Floats] | None, bool]:
        """Return a pattern of each board that hold all together, none in excess, or None.

        Also returns whether there surely is none. is_to_be_laid: patterns that leave some room are
        looked at first. seconds: how long it may take, about.
        """
        if self.is_refuted:
            return None, True
        most_steps = _STEPS_A_SECOND if self.is_part else _MOST_STEPS
        steps = int(min(most_steps, max(0.0, seconds) * _STEPS_A_SECOND))
        found = self._searched(True, min(steps, _QUICK_STEPS)) if is_to_be_laid else None
        found = found or self._searched(False, steps)
        if found is None and steps < _MOST_STEPS:
            return None, False
        return found or _programmed(self._full, self.wanted, seconds)

    def _searched(self, is_even: bool, steps: int) -> tuple[list[Floats] | None, bool] | None:
        """Return the answer; None where it takes too many steps.

        is_even: whether patterns come first that would bring all boards' worth to what is needed
        if each lay so far below its best; else those that are worth most.
        """
        bits = np.array([int(n).bit_length() for n in self.wanted])
        if bits.sum() > _MOST_BITS:
            return None
        unit = np.where(bits > 0, 1 << (np.cumsum(bits) - bits), 0)
        order = sorted(range(len(self.listed)), key=lambda b: len(self.listed[b]))
        *inner, last = order
        worth = [own @ self._prices[0] for own in self._full]
        spare = sum(float(own.max()) for own in worth) - float(self.wanted @ self._prices[0])
        below = spare / len(order) if is_even else 0.0
        own = {
            b: self._full[b][np.argsort(abs(worth[b].max() - worth[b] - below), kind="stable")]
            for b in order
        }
        counts = np.vstack([np.zeros((0, len(self.wanted))), *(own[b] for b in inner)])
        first = np.cumsum([0, *(len(own[b]) for b in inner)])
        ahead = [(own[b] @ self._prices.T).max(axis=0) for b in order]
        copies = [own[b].max(axis=0) for b in order]
        taken, is_found, done = first_choice(
            counts.astype(np.int64), first.astype(np.int64), self._prices,
            self._prices @ counts.T, np.ascontiguousarray(_from_here_on(ahead).T),
            _from_here_on(copies).astype(np.int64), self.wanted.astype(np.int64),
            np.sort(self.listed[last].astype(np.int64) @ unit), unit.astype(np.int64),
            own[last][: len(own[last]) if self.is_part else 0].astype(np.int64), steps,
            not is_even,
        )  # fmt: skip
        if done < 0:
            return None
        if not is_found:
            return None, True
        left, choice = self.wanted.copy(), [np.zeros(len(self.wanted)) for _ in order]
        for b, p in zip(inner, taken, strict=True):
            choice[b] = np.minimum(counts[p], left)
            left = left - choice[b]
        choice[last] = left
        return choice, False


def _from_here_on(each: Sequence[Floats]) -> Floats:
    """Return the sums of each and all after it, and nothing after the last, (B + 1, N)."""
    rows = np.array([*each, np.zeros_like(each[0])])
    return np.cumsum(rows[::-1], axis=0)[::-1]


def _programmed(
    full: Sequence[Floats], wanted: Floats, seconds: float
) -> tuple[list[Floats] | None, bool]:
    counts, at_board = _columns(full)
    taken, is_refuted = any_whole(
        sparse.csr_matrix(np.vstack((-counts.T, at_board))),
        np.concatenate((-wanted, np.ones(len(full)))),
        np.ones(len(counts)),
        _MOST_NODES,
        seconds,
    )
    if taken is None:
        return None, is_refuted
    held = np.array([np.where(own > 0.5, taken, 0.0).round() @ counts for own in at_board])
    return list(none_in_excess(held, wanted)), False


def _prices(lists: Sequence[Floats], wanted: Floats) -> Floats:
    """Return the parts' prices where fractions of patterns hold what is wanted most often over."""
    counts, at_board = _columns(lists)
    rows = np.vstack((-counts.T, at_board))
    often = np.concatenate((wanted, np.zeros(len(lists))))[:, None]
    answer = most(
        np.concatenate((np.zeros(len(counts)), [1.0])),
        sparse.csr_matrix(np.hstack((rows, often))),
        np.concatenate((np.zeros(len(wanted)), np.ones(len(lists)))),
        np.concatenate((np.ones(len(counts)), [OVER])),
    )
    return np.maximum(answer.prices[: len(wanted)], 0.0)


def _columns(lists: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Return all patterns (P, T) and which board each is of (B, P)."""
    board = np.repeat(np.arange(len(lists)), [len(listed) for listed in lists])
    return np.vstack(lists), np.eye(len(lists))[:, board]


def none_in_excess(held: Floats, wanted: Floats) -> Floats:
    """Return what boards hold, (B, T), without copies that nobody wants, the last ones left out."""
    before = np.cumsum(held, axis=0) - held
    return np.clip(held, 0.0, np.maximum(wanted - before, 0.0))


def fullest(listed: Floats) -> Floats:
    """Return the patterns (P, T) that no other of them holds with a copy more.

    Where one has more copies than a byte counts, all of them are returned.
    """
    if len(listed) < 2 or listed.max(initial=0.0) > _MOST_IN_A_BYTE:
        return listed
    # A byte a part, none of them 0, which numpy would cut off at the end.
    words = np.ascontiguousarray(listed + 1).astype(np.uint8)
    width = f"S{words.shape[1]}"
    every, is_full = words.view(width).ravel(), np.ones(len(words), np.bool_)
    every = np.sort(every)
    for t in range(words.shape[1]):
        more = words.copy()
        more[:, t] += 1
        asked = more.view(width).ravel()
        at = np.minimum(np.searchsorted(every, asked), len(every) - 1)
        is_full &= every[at] != asked
    return listed[is_full]
