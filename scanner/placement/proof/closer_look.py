"""What is known of single boards pattern by pattern: what they cannot hold, what was laid out."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from scanner.placement.wanted.items import Floats

# Patterns that are refused one after the other before the next one is taken as it is.
_MOST_ASKED = 100
# What is refused is made smaller until so many smaller ones were allowed: a Yes takes longest. The
# smallest parts are left out first: where that is allowed, larger ones may be left out, too, as a
# rule.
_MOST_ALLOWED = 2


@dataclass(slots=True)
class CloserLook:
    """What single boards are known not to hold: asked of finer cells, pattern by pattern.

    may_hold: whether a board may hold so many copies of each part, (T,). closest: the same as far
    as is asked at all, which takes seconds. listed: of a board, at prices, (T,), of copies wanted,
    (T,), all patterns (P, T) worth so much; None for too many. closest_left: so many closest looks
    may be taken yet. is_quick: whether may_hold takes no longer than hundredths of a second. size:
    of a copy of each part, (T,), where that is known.
    """

    may_hold: Callable[[int, Floats], bool] = lambda _board, _counts: True
    listed: Callable[[int, Floats, Floats, float], Floats | None] = lambda *_: None
    closest: Callable[[int, Floats], bool] = lambda _board, _counts: True
    _refused: dict[int, list[Floats]] = field(default_factory=dict)
    closest_left: int = 0
    is_quick: bool = False
    size: Floats | None = None
    _allowed: set[tuple[int, bytes]] = field(default_factory=set)

    def refuses(self, board: int, counts: Floats, is_closest: bool = False) -> bool:
        """Whether the board cannot hold this; remembers it, and what the closest look allows."""
        key = (board, counts.tobytes())
        if key in self._allowed or (is_closest and self.closest_left <= 0):
            return False
        self.closest_left -= is_closest
        if (self.closest if is_closest else self.may_hold)(board, counts):
            if is_closest:
                self._allowed.add(key)
            return False
        self._refused.setdefault(board, []).append(counts)
        return True

    def refused_closest(
        self,
        boards: Sequence[int],
        choice: Sequence[Floats],
        is_laid: Callable[[int, Floats], bool],
        is_over: Callable[[], bool],
    ) -> list[int]:
        """Return which of a choice's patterns the closest look refuses: one of them, or none.

        Those of the fewest copies are asked first, and not what was laid out.
        """
        for at in sorted(range(len(boards)), key=lambda at: choice[at].sum()):
            if self.closest_left <= 0 or is_over() or is_laid(boards[at], choice[at]):
                continue
            if self.refuses(boards[at], choice[at], is_closest=True):
                return [at]
        return []

    def refused_within(self, board: int, counts: Floats) -> Floats:
        """Return the fewest copies found that the board cannot hold, within what it refused last.

        All that holds so many is refused with it.
        """
        least, allowed = counts.copy(), 0
        held = np.flatnonzero(counts)
        if self.size is not None:
            held = held[np.argsort(self.size[held], kind="stable")]
        for t in held:
            while least[t] > 0 and allowed < _MOST_ALLOWED:
                less = least.copy()
                less[t] -= 1
                if not less.any() or self.may_hold(board, less):
                    allowed += 1
                    break
                least = less
        self._refused[board][-1] = least
        return least

    def held_first(self, board: int, listed: Floats, worth: Floats) -> tuple[Floats, Floats]:
        """Return patterns (P, T) and their worth, the richest first, without what is refused.

        The first is not refused, as far as so many questions tell.
        """
        order = np.argsort(-worth, kind="stable")
        listed, worth = listed[order], worth[order]
        for known in self._refused.get(board, ()):
            is_left = ~np.all(listed >= known, axis=1)
            listed, worth = listed[is_left], worth[is_left]
        for _ in range(_MOST_ASKED):
            if not len(listed) or not self.refuses(board, listed[0]):
                break
            is_left = ~np.all(listed >= self.refused_within(board, listed[0]), axis=1)
            listed, worth = listed[is_left], worth[is_left]
        return listed, worth

    def refused(self, board: int) -> Sequence[Floats]:
        """Return what a board is known not to hold."""
        return self._refused.get(board, ())

    def forget(self, board: int, held: Floats) -> None:
        """Ask anew for what was refused so far of what is in some pattern (P, T) of a board."""
        self._refused[board] = [
            counts
            for counts in self._refused.get(board, ())
            if not np.any(np.all(held >= counts, axis=1))
        ]

    def left(self, board: int, listed: Floats) -> Floats:
        """Return the patterns (P, T) that hold nothing the board is known not to hold."""
        for counts in self._refused.get(board, ()):
            listed = listed[~np.all(listed >= counts, axis=1)]
        return listed


@dataclass(frozen=True, slots=True)
class Maker:
    """Makes layouts of patterns: which ones it could not lay, and where it leaves what it could.

    take: told what each board gives, (B, T), all of it laid out; returns what that is worth, 0
    where something that was to be placed did not come along. search: whether a search on some
    boards alone laid out everything there.
    """

    unlaid: CloserLook
    take: Callable[[Floats], float]
    search: Callable[[Sequence[int]], bool] = lambda _boards: False
