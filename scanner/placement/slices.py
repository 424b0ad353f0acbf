"""No more copies of a part on one board than are allowed: by cases that shut slices of the board.

The exact pricing limits copies by their prices alone, so what it finds may hold a part more often
than anybody wants it. Where it holds n + 1 copies and n are allowed, the board is divided into
n + 1 slices with a copy in each: whatever holds n at most leaves one of these slices without. So
the most in any of n + 1 cases, each with the part barred from one slice, is a bound for all that is
allowed, and what was found is none of them. (Where cases come from a forbidden answer: G. Righini
and M. Salani, "New dynamic programming algorithms for the resource constrained elementary shortest
path problem", Networks 51 (2008), drop limits and bring back those that are broken.)
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.placement.items import Floats


@dataclass(frozen=True, slots=True)
class Bar:
    """A part that does not begin in these cells and rows of the coarsest level, ends excluded."""

    part: int
    cells: tuple[int, int]
    rows: tuple[int, int]


Bars = tuple[Bar, ...]
# Cases of one board: what the board may give is of one of them at least.
Cover = tuple[Bars, ...]
# Lines of part, cell and row of the coarsest level where a copy begins, (n, 3).
Copies = NDArray[np.int64]

# The far end of a slice at the board's own end.
_END = 1 << 40
# A cell of the coarsest level is mostly 16 mm long, a row 1 mm wide: a part is some forty cells
# long and ninety rows wide, so gaps of rows count for less.
_ROW_SHARE = 0.4


def counts_of(copies: Copies, parts: int) -> Floats:
    """Return how many copies there are of each part, (T,)."""
    return np.bincount(copies[:, 0], minlength=parts).astype(np.float64)


def allows(bars: Bars, copies: Copies) -> bool:
    """Whether no copy begins where it is barred."""
    return not any(_within(bar, copies).any() for bar in bars)


def _within(bar: Bar, copies: Copies) -> NDArray[np.bool_]:
    part, cell, row = copies.T
    inside: NDArray[np.bool_] = (
        (part == bar.part)
        & (bar.cells[0] <= cell)
        & (cell < bar.cells[1])
        & (bar.rows[0] <= row)
        & (row < bar.rows[1])
    )
    return inside


def narrower(cover: Cover, copies: Copies, part: int, most: int) -> Cover:
    """Return cases that together allow all with at most so many of a part, and not these copies."""
    bars = slices(copies[copies[:, 0] == part], most + 1)
    found = set[Bars]()
    for case in cover:
        if not allows(case, copies):
            found.add(case)
            continue
        found |= {tuple(sorted({*case, bar}, key=_order)) for bar in bars}
    # A case that bars more than another one is part of it.
    every = sorted(found, key=lambda case: (len(case), [_order(bar) for bar in case]))
    kept: list[Bars] = []
    for case in every:
        if not any(set(other) <= set(case) for other in kept):
            kept.append(case)
    return tuple(kept)


def _order(bar: Bar) -> tuple[int, ...]:
    return (bar.part, *bar.cells, *bar.rows)


def slices(copies: Copies, many: int) -> list[Bar]:
    """Return so many slices that divide a board, each with one of these copies of a part.

    Raises
    ------
    ValueError
        There are fewer copies than slices, or two of them begin at one place.
    """
    whole = Bar(int(copies[0, 0]), (0, _END), (0, _END))
    found = [(whole, copies)]
    while len(found) < many:
        widest = max(found, key=lambda one: _gap(one[1])[0])
        gap, axis, at = _gap(widest[1])
        if gap <= 0:
            raise ValueError(f"{len(copies)} copies do not stand in {many} slices")
        found.remove(widest)
        bar, own = widest
        for side, ends in ((own[:, axis] < at, (0, at)), (own[:, axis] >= at, (at, _END))):
            found.append((_cut(bar, axis, ends), own[side]))
    return [bar for bar, _ in found]


def _gap(copies: Copies) -> tuple[float, int, int]:
    """Return the widest gap between copies, along (1) or across (2), and its middle."""
    best = (0.0, 1, 0)
    for axis, scale in ((1, 1.0), (2, _ROW_SHARE)):
        places = np.unique(copies[:, axis])
        if len(places) > 1:
            n = int(np.argmax(np.diff(places)))
            gap = scale * float(places[n + 1] - places[n])
            best = max(best, (gap, axis, int(places[n] + places[n + 1] + 1) // 2))
    return best


def _cut(bar: Bar, axis: int, ends: tuple[int, int]) -> Bar:
    def inner(own: tuple[int, int]) -> tuple[int, int]:
        return max(own[0], ends[0]), min(own[1], ends[1])

    return Bar(bar.part, inner(bar.cells), bar.rows) if axis == 1 else Bar(
        bar.part, bar.cells, inner(bar.rows)
    )  # fmt: skip


def over(counts: Floats, most: Floats) -> Sequence[int]:
    """Return the parts of which there are more copies than allowed."""
    return [int(t) for t in np.flatnonzero(counts > most + 0.5)]
