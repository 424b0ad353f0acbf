"""The most that a few clear rectangles can hold: the grader's cuttings, found by exact search.

A cutting unit is 1 in by 1 ft: width in inches times length in feet, both with their fractions
(NHLA 2007, paragraph 37). Cuttings are rectangles parallel to the board. Any four or fewer disjoint
rectangles can be parted by straight cuts right across (guillotine cuts), so for up to four the
search is exact over the given lines; beyond four it leaves out arrangements that turn round a
middle piece, and the units it gives can only be too low.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.lot.cutting_tables import fill_tables

# Crossings of lines that may bound a cutting: the tables grow with their square (here 120 MB).
_MOST_CROSSINGS = 1000
# Rectangles that only touch do not overlap (inches, feet).
_TOUCH = 1e-6


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle on a face: x in feet from end A, y in inches from the top edge of its frame."""

    x0_ft: float
    y0_in: float
    x1_ft: float
    y1_in: float

    @property
    def units(self) -> float:
        """Cutting units: inches across times feet along."""
        return (self.y1_in - self.y0_in) * (self.x1_ft - self.x0_ft)


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """Clear cuttings and what they hold together."""

    units: float
    cuttings: tuple[Rectangle, ...]


def best_cuttings(
    size: tuple[float, float],
    bad: Sequence[Rectangle],
    least: Sequence[tuple[float, float]],
    count: int,
) -> CuttingPlan:
    """Return the at most ``count`` disjoint clear cuttings that hold most units.

    Parameters
    ----------
    size
        Length in feet and width in inches of the rectangle that encloses the face.
    bad
        What no cutting may cover.
    least
        Least sizes of a cutting (width in inches, length in feet); one of them must hold.
    count
        Number of cuttings, at least 1.
    """
    xs, ys = _lines(size, bad, least)
    covered = np.zeros((len(ys), len(xs)), dtype=np.int64)
    for r in bad:
        rows = (ys[1:] > r.y0_in + _TOUCH) & (ys[:-1] < r.y1_in - _TOUCH)
        columns = (xs[1:] > r.x0_ft + _TOUCH) & (xs[:-1] < r.x1_ft - _TOUCH)
        covered[1:, 1:] |= rows[:, None] & columns[None, :]
    sums = covered.cumsum(0).cumsum(1)
    best, how = fill_tables(xs, ys, sums, np.array(least, dtype=np.float64), count)
    cuttings: list[Rectangle] = []
    _collect(best, how, (0, len(xs) - 1, 0, len(ys) - 1, count), xs, ys, cuttings)
    return CuttingPlan(float(best[0, -1, 0, -1, count]), tuple(cuttings))


def _lines(
    size: tuple[float, float], bad: Sequence[Rectangle], least: Sequence[tuple[float, float]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the lines that may bound a cutting, along and across: edges, and least sizes off them.

    A cutting beside another may stop short of an edge, at its own least size; where there are too
    many lines those are left out first.
    """
    length, width = size
    fixed_x = _between(length, (x for r in bad for x in (r.x0_ft, r.x1_ft)))
    fixed_y = _between(width, (y for r in bad for y in (r.y0_in, r.y1_in)))
    xs = _between(length, _offsets(fixed_x, [low[1] for low in least]))
    ys = _between(width, _offsets(fixed_y, [low[0] for low in least]))
    for along, across in ((xs, ys), (xs, fixed_y), (fixed_x, fixed_y)):
        if len(along) * len(across) <= _MOST_CROSSINGS:
            return along, across
    return fixed_x, _thinned(fixed_y, _MOST_CROSSINGS // len(fixed_x))


def _between(end: float, places: Iterable[float]) -> NDArray[np.float64]:
    """Return the places from 0 to the end, both with them, sorted and each once."""
    return np.array(sorted({0.0, end} | {round(p, 9) for p in places if 0 < p < end}))


def _offsets(fixed: NDArray[np.float64], least: Sequence[float]) -> list[float]:
    return [float(f + s * low) for f in fixed for s in (-1, 0, 1) for low in least]


def _thinned(lines: NDArray[np.float64], most: int) -> NDArray[np.float64]:
    """Return at most so many of the lines, the outer two with them: fewer cuttings, never wrong."""
    kept = np.linspace(0, len(lines) - 1, max(most, 2)).round().astype(int)
    thinned: NDArray[np.float64] = lines[np.unique(kept)]
    return thinned


def _collect(
    best: NDArray[np.float64],
    how: NDArray[np.int16],
    place: tuple[int, int, int, int, int],
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
    found: list[Rectangle],
) -> None:
    """Walk back through the choices and list the cuttings."""
    a, b, c, d, k = place
    if k == 0 or best[a, b, c, d, k] <= 0:
        return
    way, line, left = how[a, b, c, d, k]
    if way == 0:
        found.append(Rectangle(float(xs[a]), float(ys[c]), float(xs[b]), float(ys[d])))
    elif way == 1:
        _collect(best, how, (a, line, c, d, left), xs, ys, found)
        _collect(best, how, (line, b, c, d, k - left), xs, ys, found)
    else:
        _collect(best, how, (a, b, c, line, left), xs, ys, found)
        _collect(best, how, (a, b, line, d, k - left), xs, ys, found)
