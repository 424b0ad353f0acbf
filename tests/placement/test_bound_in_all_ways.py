"""No way at all to lay out a small board is refused by its bound, nor worth more than it says.

All ways are tried: everything pushed to the left and down, so that each part begins at the board's
end, behind a cut or behind a flaw. Sizes are whole hundredths of a millimetre, and boards are made
just so long and wide that something fits to a hundredth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
import pytest
from shapely.geometry import box

from scanner.board.flaw import FlawKind
from scanner.placement.choosing.patterns import pattern_of
from scanner.placement.choosing.problem import problem_of
from scanner.placement.proof import one_board
from scanner.placement.proof.bound_of_class import Proof, bound_of_class
from scanner.placement.proof.laying import Laying
from scanner.placement.proof.one_board import OneBoard
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS
from tests.instances.tiny import SHOP, board, flaw, part

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.placement.parts import Part
    from scanner.placement.shop import Shop

Counts = tuple[int, ...]
NEVER = 1 << 60


@dataclass(frozen=True)
class Small:
    """A board of one rectangle with blocked rectangles, all in hundredths of a millimetre.

    sizes: rough length and width of each part; x0, x1: between the end trims.
    """

    long: int
    wide: int
    bad: tuple[tuple[int, int, int, int], ...]
    sizes: tuple[tuple[int, int], ...]
    kerf: int
    trim: int
    wanted: Counts

    @cached_property
    def tops(self) -> list[int]:
        return sorted({0, *(y1 for _, _, _, y1 in self.bad)})

    def begin(self, x: int, y: int, length: int, width: int) -> int:
        """Return where a part begins at first, at ``x`` or later, in a strip at ``y``."""
        for x0, y0, x1, y1 in sorted(self.bad):
            if y < y1 and y + width > y0 and x < x1 and x + length > x0:
                x = x1
        return x if x + length <= self.long - self.trim else NEVER

    def strip(self, a: int, y: int, held: Counts) -> int:
        """Return where a strip of these copies ends at first, its kerf not counted."""
        best = a if not any(held) else NEVER
        for t, n in enumerate(held):
            if not n:
                continue
            rest = tuple(m - (u == t) for u, m in enumerate(held))
            at = self.strip(a, y, rest) + (self.kerf if any(rest) else 0)
            if at < NEVER:
                best = min(best, self.begin(at, y, *self.sizes[t]) + self.sizes[t][0])
        return best if best < NEVER else NEVER

    def section(self, a: int, y: int, held: Counts) -> int:
        """Return where a section of these copies, from ``y`` on, ends at first."""
        if not any(held):
            return a
        best = NEVER
        for start in [y, *(top for top in self.tops if top > y)]:
            for first in within(held):
                widths = {self.sizes[t][1] for t, n in enumerate(first) if n}
                if len(widths) != 1 or start + (width := widths.pop()) > self.wide:
                    continue
                end = self.strip(a, start, first)
                if end < best:
                    rest = tuple(n - m for n, m in zip(held, first, strict=True))
                    best = min(best, max(end, self.section(a, start + width + self.kerf, rest)))
        return best

    def every(self) -> set[Counts]:
        """Return all that the board holds of what is wanted."""
        section = lru_cache(None)(self.section)
        behind: dict[Counts, int] = {(0,) * len(self.sizes): self.trim - self.kerf}
        for held in sorted(within(self.wanted), key=sum):
            best = NEVER
            for last in within(held):
                before = behind.get(tuple(n - m for n, m in zip(held, last, strict=True)), NEVER)
                if before < NEVER:
                    best = min(best, section(before + self.kerf, 0, last))
            if best < NEVER:
                behind[held] = best
        return set(behind)


def within(held: Counts) -> list[Counts]:
    """Return all copies within these but none."""
    return [n for n in product(*(range(m + 1) for m in held)) if any(n)]


def small(rng: np.random.Generator) -> Small:
    """Return a board that some parts fit on to a hundredth, or miss by one."""
    kerf, trim = int(rng.choice([0, 163, 320, 400])), int(rng.choice([0, 0, 1500]))
    widths = rng.integers(3000, 7000, 2)
    sizes = tuple((int(rng.integers(9000, 40000)), int(rng.choice(widths))) for _ in range(3))
    wanted = tuple(int(n) for n in rng.integers(1, 4, 3)) if rng.random() < 0.7 else (2, 2, 1)
    along, across = rng.integers(0, 3, int(rng.integers(2, 4))), rng.integers(0, 3, 2)
    miss = rng.choice([0, 0, 0, 1, 30, 2000], 2)
    long = sum(sizes[t][0] + kerf for t in along) - kerf + 2 * trim - int(miss[0])
    wide = sum(sizes[t][1] + kerf for t in across) - kerf - int(miss[1])
    bad = []
    for _ in range(int(rng.integers(0, 4))):
        x, y = int(rng.integers(0, long)), int(rng.integers(0, wide))
        if rng.random() < 0.5:
            # Just behind a part that lies in the corner.
            t = int(rng.integers(3))
            x, y = min(x, trim + sizes[t][0]), min(y, sizes[t][1])
        bad.append((x, y, x + int(rng.integers(200, 6000)), y + int(rng.integers(200, 3000))))
    return Small(long, wide, tuple(bad), sizes, kerf, trim, wanted)


def made(one: Small, rng: np.random.Generator) -> tuple[Board, list[Part], Shop]:
    """Return it as boards and parts are known; what a part's allowances are may differ."""
    flaws = [
        flaw(f"F{n}", FlawKind.HOLE, box(*(v / 100 for v in corners)), (1, 2))
        for n, corners in enumerate(one.bad)
    ]
    shop = replace(
        SHOP, kerf_mm=one.kerf / 100, end_trim_seen_mm=one.trim / 100, cut_class="three_stage"
    )
    parts = []
    for n, ((length, width), many) in enumerate(zip(one.sizes, one.wanted, strict=True)):
        more = int(rng.choice([0, 0, 610]))
        rough = part(f"p{n}", many, length / 100, (width - more) / 100)
        parts.append(replace(rough, width_allowance_mm=more / 100))
    return board("B1", one.long / 100, one.wide / 100, *flaws), parts, shop


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(150, 270))
def test_no_way_to_lay_out_a_board_is_refused_or_worth_more_than_its_bound(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(7000 + seed)
    one = small(rng)
    wood, parts, shop = made(one, rng)
    every = one.every()
    problem = problem_of((wood,), parts, one.wanted, shop, row_heights=FINE_ROW_HEIGHTS)
    asked = OneBoard((wood,), parts, shop, problem)
    for held in within(one.wanted):
        counts = np.array(held, float)
        if held in every:
            assert asked.may_hold(0, counts)
            assert asked.may_hold_closest(0, counts)
        places = asked.places(0, counts)
        if places is not None:
            assert held in every
            assert tuple(pattern_of(0, places, 3).counts) == held
    with monkeypatch.context() as few:
        # Of so many sets of copies only the larger parts are asked for.
        few.setattr(one_board, "_MOST_SETS", 3)
        in_part = OneBoard((wood,), parts, shop)
        for held in every:
            assert in_part.may_hold(0, np.array(held, float))
            assert in_part.may_hold_closest(0, np.array(held, float))
    values = np.array([p.priority * p.length_mm * p.width_mm for p in parts])
    best = max(float(np.array(held) @ values) for held in every)
    gross = [wood.wood(1).area]
    bound = bound_of_class(
        (wood,), parts, one.wanted, gross, shop, (0.0, 1e12), False, Proof(lambda: False)
    )
    assert bound is not None
    assert bound.value >= best * (1 - 1e-6)
    most = max(every, key=sum)
    if any(most):
        # Twice the wood is never needed for what one board holds.
        two = (wood, replace(wood, id="B2"))
        laying = Laying(
            problem_of(two, parts, most, shop, row_heights=FINE_ROW_HEIGHTS), rng, False
        )
        for makes in (None, laying):
            proof = Proof(lambda: False, laying=makes)
            area = bound_of_class(two, parts, most, gross * 2, shop, (0.0, gross[0]), True, proof)
            assert area is not None
            assert area.value <= gross[0] * (1 + 1e-6)
        for pattern in laying.best.values():
            assert tuple(pattern.counts) in every
