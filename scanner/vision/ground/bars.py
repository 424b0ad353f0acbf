"""Bars in the ground that might be boards: pairs of long lines along the rule."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.ground.cells import ACROSS_MM, ALONG_MM, Cells, Singles, moved_rows

Doubles = NDArray[np.float64]

NARROWEST_MM, WIDEST_MM = 50.0, 480.0
# What is shorter is an offcut; the shortest piece that machines take is 305 mm.
SHORTEST_MM = 280.0
# How far a board may lie turned from the rule.
_ANGLES_DEG = np.arange(-12.0, 12.1, 0.75)
# Looks are compared over this on both sides of a line, and along it over this.
_BAND_MM = 12.0
_STEADY_MM = 240.0
# Steps are counted in the ground's own unrest: below the first no line, above the second no more.
LEAST_STEP, _MOST_STEP = 2.2, 6.0
# The best so many lines and pairs of lines of each direction, and bars in all, are looked at: more
# cost time and are never the board.
_LINES_PER_ANGLE = 26
_BARS_PER_ANGLE = 10
_BARS = 60
# Share of a bar that may lie on the rule: a row or two.
_MOST_RULE = 0.02
_LEAST_KNOWN = 0.7


@dataclass(frozen=True, slots=True)
class Bar:
    """Rows row0 ... row1 and columns column0 ... column1 of the cells turned by a slope."""

    slope: float
    row0: int
    row1: int
    column0: int
    column1: int
    worth: float

    def corners(self, cells: Cells) -> Doubles:
        """Return its corners (4, 2), ground mm: a rectangle along its slope."""
        row = np.array([self.row0, self.row0, self.row1, self.row1], dtype=float)
        column = np.array([self.column0, self.column1, self.column1, self.column0], dtype=float)
        sheared = cells.ground_from_turned(row, column, self.slope)
        left, right = sheared[[0, 3]].mean(axis=0), sheared[[1, 2]].mean(axis=0)
        along = (right - left) / np.linalg.norm(right - left)
        # Columns are upright, ends are square to the board: the height shrinks by the cosine.
        half = (
            0.5 * (self.row1 - self.row0) * ACROSS_MM * along[0] * np.array([-along[1], along[0]])
        )
        return np.array([left - half, right - half, right + half, left + half])


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """How the looks change from each row's upper to its lower side, before any turn.

    Attributes
    ----------
    change
        (R + 1, C, 5) mean looks above less mean looks below, 0 where not sure.
    sure
        (R + 1, C) float, 1 where both sides are known.
    unrest
        (5,) how much the ground's own change, formed over `_STEADY_MM` along rows.
    """

    change: Singles
    sure: Singles
    unrest: Singles

    @staticmethod
    def of(cells: Cells) -> Steps:
        """Return the changes of looks that the cells show."""
        band = round(_BAND_MM / ACROSS_MM)
        rows, columns = cells.known.shape
        weight = cells.known.astype(np.float32)[..., None]
        sums = np.zeros((rows + 1, columns, cells.looks.shape[-1] + 1), dtype=np.float32)
        np.cumsum(np.dstack([cells.looks * weight, weight]), axis=0, out=sums[1:])
        at = np.arange(rows + 1)
        upper = sums[at] - sums[np.maximum(at - band, 0)]
        lower = sums[np.minimum(at + band, rows)] - sums[at]
        sure = (upper[..., -1] >= band - 1) & (lower[..., -1] >= band - 1)
        count = [np.maximum(one[..., -1:], 1) for one in (upper, lower)]
        change = upper[..., :-1] / count[0] - lower[..., :-1] / count[1]
        change = np.where(sure[..., None], change, 0).astype(np.float32)
        there = _steady(change, sure.astype(np.float32))[sure]
        unrest = 1.48 * np.median(np.abs(there), axis=0) if len(there) else np.zeros(5)
        return Steps(
            change, sure.astype(np.float32), np.asarray(unrest + _LEAST_UNREST, np.float32)
        )

    def along(self, slope: float) -> Singles:
        """Return (R + 1, C) how plain the step at each row is, rows turned by the slope.

        In units of the ground's own unrest, formed over `_STEADY_MM` along the row: a board's edge
        changes the looks the same way all along, a speckled floor does not.
        """
        source, there = moved_rows(self.sure.shape, slope)
        at = np.arange(self.sure.shape[1])[None, :]
        sure = self.sure[source, at] * there
        mean = _steady(self.change[source, at] * there[..., None], sure) / self.unrest
        size = np.sqrt(np.einsum("rck,rck->rc", mean, mean) / mean.shape[-1])
        return np.where(sure > 0, np.minimum(size, _MOST_STEP), 0).astype(np.float32)


_LEAST_UNREST = np.array([0.02, 0.02, 0.02, 0.03, 0.03])


def _steady(change: Singles, sure: Singles) -> Singles:
    """Return the means along rows of what is sure."""
    window = (round(_STEADY_MM / ALONG_MM), 1)
    mean = cv2.blur(np.ascontiguousarray(change), window, borderType=cv2.BORDER_REFLECT)
    held = cv2.blur(sure, window, borderType=cv2.BORDER_REFLECT)
    return np.asarray(mean / np.maximum(held, 0.3)[..., None], dtype=np.float32)


def find_bars(cells: Cells, steps: Steps) -> list[Bar]:
    """Return bars that may be boards, most promising lines first, alike ones once."""
    found: list[Bar] = []
    for angle in _ANGLES_DEG:
        found += bars_along(cells, steps, float(np.tan(np.radians(angle))))
    found.sort(key=lambda bar: -bar.worth)
    kept: list[Bar] = []
    for bar in found:
        if all(_apart(bar, other, cells.known.shape[1]) for other in kept):
            kept.append(bar)
        if len(kept) >= _BARS:
            break
    return kept


def _apart(bar: Bar, other: Bar, columns: int) -> bool:
    """Return whether two bars are different enough to be tried both."""

    def ends(one: Bar) -> Doubles:
        """Rows of both lines at both ends, and the ends, in cells of about 12 mm."""
        lift = one.slope * ALONG_MM / ACROSS_MM
        at = np.array([one.column0, one.column1])
        rows = [row + (at - (columns - 1) / 2) * lift for row in (one.row0, one.row1)]
        return np.concatenate([*rows, at * 0.4])

    return bool(np.abs(ends(bar) - ends(other)).max() > 3.0)


def bars_along(cells: Cells, steps: Steps, slope: float) -> list[Bar]:
    """Return the best bars of one slope."""
    excess = steps.along(slope) - LEAST_STEP
    line_worth, _, _ = _best_run(excess)
    lines = _peaks(line_worth, _LINES_PER_ANGLE)
    if len(lines) < 2:
        return []
    first, second = np.triu_indices(len(lines), k=1)
    row0, row1 = lines[first], lines[second]
    width = (row1 - row0) * ACROSS_MM
    keep = (width >= NARROWEST_MM) & (width <= WIDEST_MM)
    row0, row1 = row0[keep], row1[keep]
    if not len(row0):
        return []
    known, rule = (_counted(flags) for flags in cells.turned_flags(slope))
    height = (row1 - row0)[:, None]
    # Columns that are half unseen, or on the rule, belong to no bar.
    shown = (known[row1] - known[row0]) / height
    ruled = (rule[row1] - rule[row0]) / height
    both = excess[row0] + excess[row1] - 2.0 * (shown < 0.5) - 20.0 * (ruled > _MOST_RULE)
    worth, start, stop = _best_run(both)
    long = (stop - start) * ALONG_MM >= np.maximum(SHORTEST_MM, 1.5 * (row1 - row0) * ACROSS_MM)
    filled = np.array(
        [s[a:b].mean() if b > a else 0.0 for s, a, b in zip(shown, start, stop, strict=True)]
    )
    good = np.flatnonzero(long & (worth > 0) & (filled >= _LEAST_KNOWN))
    best = good[np.argsort(-worth[good])][:_BARS_PER_ANGLE]
    return [
        Bar(slope, int(row0[i]), int(row1[i]), int(start[i]), int(stop[i]), float(worth[i]))
        for i in best
    ]


def _counted(flags: NDArray[np.bool_]) -> Singles:
    """Return (R + 1, C) how many of each column's cells above a row hold."""
    out = np.zeros((flags.shape[0] + 1, flags.shape[1]), dtype=np.float32)
    np.cumsum(flags, axis=0, out=out[1:])
    return out


def _best_run(values: Singles) -> tuple[Singles, NDArray[np.intp], NDArray[np.intp]]:
    """Return each row's largest sum over a run of columns, its first column and the one after."""
    rows = len(values)
    best = np.zeros(rows, dtype=np.float32)
    start, stop = np.zeros(rows, dtype=np.intp), np.zeros(rows, dtype=np.intp)
    here, begun = np.zeros(rows, dtype=np.float32), np.zeros(rows, dtype=np.intp)
    for column in range(values.shape[1]):
        fresh = here <= 0
        begun = np.where(fresh, column, begun)
        here = np.where(fresh, 0, here) + values[:, column]
        better = here > best
        best = np.where(better, here, best)
        start, stop = np.where(better, begun, start), np.where(better, column + 1, stop)
    return best, start, stop


def _peaks(worth: Singles, most: int) -> NDArray[np.intp]:
    """Return the rows, rising, whose worth is the largest among their neighbours."""
    around = cv2.dilate(worth[:, None], np.ones((3, 1), np.uint8))[:, 0]
    rows = np.flatnonzero((worth >= around) & (worth > 0))
    return np.sort(rows[np.argsort(-worth[rows])][:most])
