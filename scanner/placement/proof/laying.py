"""Lays on a board what the bound says that it may hold: section by section, on fine rows.

The bound's patterns lie on rounded ground, so that not all of them can be had; and a search that
takes what is dearest first does not find all that can. Held to the sections of the rounded layout
it does.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scanner.placement.choosing.choice import counts_of, value_of
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.patterns import (
    CLOSE,
    Pattern,
    best_between,
    best_pattern,
    patched,
    pattern_of,
    widened,
)
from scanner.placement.choosing.problem import Problem
from scanner.placement.choosing.search import Campaign
from scanner.placement.proof.section_grid import LONG_WORK, Section, SectionGrid
from scanner.placement.proof.sure_grid import sure_grid
from scanner.placement.stop import Clock, Steps
from scanner.placement.wanted.items import Floats, Ints

# Attempts at a whole board, and at one section: what was left over counts so much more in the next.
_BOARD_TRIES, _SECTION_TRIES = 2, 4
_DEARER, _SHAKE = 1.3, 0.1
# Patterns listed of a board.
_MANY = 30_000
# Steps a board of a search on boards alone that seem to hold everything.
_STEPS_A_BOARD = 60


class _Until(Steps):
    """So many steps, or until time is up."""

    def __init__(self, last: int, is_over: Callable[[], bool], left: Callable[[], float]) -> None:
        super().__init__(last)
        self._is_over, self._left = is_over, left

    def is_over(self, steps: int) -> bool:
        """Whether the search should end now."""
        return super().is_over(steps) or self._is_over()

    def seconds_left(self, steps: int) -> float:
        """Return the seconds left."""
        return self._left()


@dataclass(slots=True)
class Laying:
    """Lays patterns on the boards of a problem; remembers the best layout made of them.

    is_value_sought: whether the most value is sought; else everything on the least wood.
    """

    problem: Problem
    rng: np.random.Generator
    is_value_sought: bool
    best: dict[int, Pattern] = field(default_factory=dict)
    _best_worth: float = -np.inf
    _laid: dict[tuple[int, bytes], Pattern | None] = field(default_factory=dict)
    _sure: dict[int, SectionGrid] = field(default_factory=dict)

    def knows(self, names: Sequence[str]) -> bool:
        """Whether parts of all these names are laid out, each by itself."""
        own = {part.name for part in self.problem.types.parts}
        return not self.problem.types.sets and all(name in own for name in names)

    def listed(
        self, board: int, names: Sequence[str], price: Floats, wanted: Floats, least: float
    ) -> Floats | None:
        """Return patterns (P, N) of parts of these names that a board surely can give.

        All those worth ``least`` that lie on whole cells; None where they are too many. Prices and
        copies wanted are (N,).
        """
        number = {part.name: t for t, part in enumerate(self.problem.types.parts)}
        own = [number[name] for name in names]
        if board not in self._sure:
            self._sure[board] = sure_grid(self.problem, board, own)
        grid = self._sure[board]
        found = grid.near_best(price, wanted, least, len(grid.levels), _MANY, LONG_WORK)
        # What could not be laid is tried again where it is part of what the board surely holds.
        for key, laid in list(self._laid.items()):
            if key[0] != board or laid is not None or found is None:
                continue
            if np.any(np.all(found >= np.frombuffer(key[1], np.int32)[own], axis=1)):
                del self._laid[key]
        return found

    def _sure_sections(self, board: int, counts: Floats) -> list[Section] | None:
        """Return the sections in which a board surely holds so many copies, (N,), if known."""
        if board not in self._sure:
            return None
        return self._sure[board].sections_of(np.ones(len(counts)), counts, _MANY)

    def lays(
        self,
        board: int,
        counts: Floats,
        names: Sequence[str],
        sections: Callable[[], Sequence[Section] | None],
        places: Callable[[], Ints | None] | None = None,
    ) -> bool:
        """Whether a board was laid out with so many copies, (N,), of the parts of these names.

        places: where these lie on the ground of the problem, None where they do not; where that
        cannot be asked, sections: where they may lie on the rounded board.
        """
        asked = self._asked(counts, names)
        if not asked.any():
            return True
        key = (board, asked.tobytes())
        if key not in self._laid:
            if places is not None:
                self._laid[key] = self._as_told(board, asked, places())
            else:
                found = self._as_one(board, asked)
                if found is None:
                    known = self._sure_sections(board, counts) or sections() or ()
                    found = self._by_sections(board, asked, known, names)
                self._laid[key] = found
        return self._laid[key] is not None

    def _as_told(self, board: int, asked: Ints, places: Ints | None) -> Pattern | None:
        if places is None:
            return None
        found = pattern_of(board, places, len(self.problem.types))
        return found if np.array_equal(found.counts, asked) else None

    def take(self, held: Floats, names: Sequence[str]) -> float:
        """Note a layout whose boards, (B, N), were all laid out; return what it is worth.

        That is 0 where everything is sought and something did not come along.
        """
        choice = {}
        for b, counts in enumerate(held):
            asked = self._asked(counts, names)
            pattern = self._laid[b, asked.tobytes()] if asked.any() else None
            if pattern is not None:
                choice[b] = pattern
        return self._taken(choice)

    def searched(
        self, boards: Sequence[int], is_over: Callable[[], bool], left: Callable[[], float]
    ) -> bool:
        """Whether a search on these boards alone laid out everything; notes that layout.

        left: seconds until it is over, infinite where time plays no part.
        """
        types = self.problem.types
        pool = Pool.of(types)
        clock = Clock(_Until(_STEPS_A_BOARD * len(boards), is_over, left))
        campaign = Campaign(self.problem, pool, frozenset(boards), clock, self.rng)
        goal = float(types.wanted @ pool.value)
        campaign.advance(_STEPS_A_BOARD * len(boards), goal, only_if_possible=True)
        return self._taken(dict(campaign.finest)) > 0

    def _taken(self, choice: dict[int, Pattern]) -> float:
        """Note a layout; return what it is worth, 0 where everything is sought and does not lie."""
        types, own = self.problem.types, sorted(choice)
        if np.any(counts_of(choice, len(types)) < types.wanted):
            choice = patched(self.problem, choice, types.wanted, own)
        value = value_of(choice, types.value)
        is_all = not np.any(counts_of(choice, len(types)) < types.wanted)
        if not self.is_value_sought and not is_all:
            return 0.0
        worth = value if self.is_value_sought else -float(self.problem.area[own].sum())
        if worth > self._best_worth:
            self.best, self._best_worth = choice, worth
        return value

    def _asked(self, counts: Floats, names: Sequence[str]) -> Ints:
        number = {part.name: t for t, part in enumerate(self.problem.types.parts)}
        asked = np.zeros(len(self.problem.types), np.int32)
        asked[[number[name] for name in names]] = np.round(counts)
        return asked

    def _as_one(self, board: int, asked: Ints) -> Pattern | None:
        """Return a pattern of just what is asked, the whole board looked at at once."""
        price = self._sizes()
        for _ in range(_BOARD_TRIES):
            found = best_pattern(self.problem, board, price, asked, self.rng, CLOSE)
            if self.problem.shop.cut_class != "three_stage":
                found = widened(self.problem, {board: found}, asked)[board]
            if np.array_equal(found.counts, asked):
                return found
            price = self._shaken(price, asked > found.counts)
        return None

    def _by_sections(
        self, board: int, asked: Ints, sections: Sequence[Section], names: Sequence[str]
    ) -> Pattern | None:
        ground, kerf = self.problem.grounds.at_hand(board), self.problem.types.kerf
        at, laid = ground.x0, list[Ints]()
        for n, section in enumerate(sections):
            own = self._asked(section.counts, names)
            # Each part was rounded down to whole cells: by how much is not known any more.
            until = ground.x1 if n == len(sections) - 1 else section.end + 10 * int(own.sum())
            places = self._section(board, own, (at, min(until, ground.x1)))
            if places is None:
                return None
            places = places.copy()
            places[:, 3] += sum(len(np.unique(p[:, 3])) for p in laid)
            laid.append(places)
            at = int(places[:, 6].max()) + kerf
        if not laid:
            return None
        found = pattern_of(board, np.concatenate(laid), len(self.problem.types))
        return found if np.array_equal(found.counts, asked) else None

    def _section(self, board: int, own: Ints, ends: tuple[int, int]) -> Ints | None:
        """Return places for all of these between two ends, as near to the first as was found."""
        price, best = self._sizes(), None
        for _ in range(_SECTION_TRIES):
            places = best_between(self.problem, board, price.astype(np.float32), own, CLOSE, ends)
            missing = own - np.bincount(places[:, 0], minlength=len(own))
            if not np.any(missing > 0):
                if best is None or places[:, 6].max() < best[:, 6].max():
                    best = places
                ends = (ends[0], int(places[:, 6].max()) - 1)
            price = self._shaken(price, missing > 0)
        return best

    def _sizes(self) -> Floats:
        types = self.problem.types
        return np.array(
            [float(types.sizes[p.name].length * types.sizes[p.name].width) for p in types.parts]
        )

    def _shaken(self, price: Floats, is_missing: NDArray[np.bool_]) -> Floats:
        shake = 1 + _SHAKE * self.rng.standard_normal(len(price))
        return price * np.where(is_missing, _DEARER, 1.0) * np.maximum(shake, 0.2)
