"""A bar in a photo: its two long edges as smooth curves, and how it lies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.lines import median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats

# Bars are alike from this share of each other's width and length on.
_ALIKE = 0.8
# An edge is drawn through at least so many measured points.
_FEWEST_POINTS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """A bar in a photo; ``share`` runs from 0 at its first end to 1 at its other end.

    Attributes
    ----------
    start, stop
        Ends of the middle line, (2,) px.
    upper, lower
        Coefficients of the edges' distances from the middle line over share (cubics: lenses bend
        long edges); upper is the side of ``up``.
    shares, upper_px, lower_px
        Where the edges were really measured, and how far from the middle line (NaN: not seen).
    """

    start: Floats
    stop: Floats
    upper: Floats
    lower: Floats
    shares: Floats
    upper_px: Floats
    lower_px: Floats

    @property
    def length(self) -> float:
        """Length of the middle line, px."""
        return float(np.linalg.norm(self.stop - self.start))

    def _chord_up(self) -> Floats:
        step = (self.stop - self.start) / self.length
        return np.array([step[1], -step[0]])

    def centre(self, share: float) -> Floats:
        """Return the middle of the bar at a share of its length, (2,) px."""
        lift = (along_curve(self.upper, share) + along_curve(self.lower, share)) / 2
        return np.asarray(self.start + share * (self.stop - self.start) + lift * self._chord_up())

    def place(self, share: float, lift: float) -> Floats:
        """Return a point of the bar, (2,) px; ``lift`` -0.5 at the lower edge to 0.5 at the upper.

        The same grid lines as `grid`: square to the chord, not to the bar's own bend.
        """
        height = along_curve(self.upper, share) + along_curve(self.lower, share)
        height = height / 2 + lift * self.width(share)
        return np.asarray(self.start + share * (self.stop - self.start) + height * self._chord_up())

    def width(self, share: float) -> float:
        """Return the width of the bar, px."""
        return float(along_curve(self.upper, share) - along_curve(self.lower, share))

    def along(self, share: float) -> Floats:
        """Return the unit vector along the bar, towards its other end."""
        step = self.centre(min(1.0, share + 0.02)) - self.centre(max(0.0, share - 0.02))
        return np.asarray(step / np.linalg.norm(step))

    def up(self, share: float) -> Floats:
        """Return the unit vector across the bar, to the left of ``along`` as the eye sees it."""
        step = self.along(share)
        return np.array([step[1], -step[0]])

    def edge(self, share: float, side: float) -> Floats | None:
        """Return a measured point of an edge near a share, or None where it is hidden."""
        heights = self.upper_px if side > 0 else self.lower_px
        curve = self.upper if side > 0 else self.lower
        near = np.isfinite(heights) & (np.abs(self.shares - share) < 0.04)
        if not near.any():
            return None
        off = median(heights[near] - along_curve(curve, self.shares[near]))
        height = along_curve(curve, share) + off
        return np.asarray(self.start + share * (self.stop - self.start) + height * self._chord_up())

    def grid(self, columns: int, rows: int) -> Floats:
        """Return points (rows, columns, 2) px that cover the bar; first row at the upper edge."""
        share = np.linspace(0.0, 1.0, columns)
        upper, lower = np.polyval(self.upper, share), np.polyval(self.lower, share)
        down = ((np.arange(rows) + 0.5) / rows)[:, None]
        height = upper + (lower - upper) * down
        line = self.start + share[:, None] * (self.stop - self.start)
        return np.asarray(line + height[..., None] * self._chord_up())

    def covers(self, ends: Floats) -> bool:
        """Return whether a bar between two ends (2, 2) px lies along this one."""
        # In plain numbers: asked of every bar against every other.
        (x0, y0), (x1, y1) = self.start.tolist(), self.stop.tolist()
        length = math.hypot(x1 - x0, y1 - y0)
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        most = 0.6 * self.width(0.5)
        for x, y in ends.tolist():
            along = (x - x0) * dx + (y - y0) * dy
            if not -0.1 * length < along < 1.1 * length:
                return False
            if abs((x - x0) * dy - (y - y0) * dx) >= most:
                return False
        return True

    def is_again(self, ends: Floats, wide: float) -> bool:
        """Return whether a bar between two ends (2, 2), so wide, is this one once more, px."""
        again = _ALIKE < wide / self.width(0.5) < 1 / _ALIKE and self.covers(ends)
        return again and float(np.linalg.norm(ends[1] - ends[0])) < self.length / _ALIKE

    def extended(self, before: float, after: float) -> Band:
        """Return the bar made longer by shares of its length at its start and its end.

        Its edges are carried on as parabolas: a cubic runs off where nothing holds it.
        """
        share = (self.shares + before) / (1 + before + after)
        step = self.stop - self.start
        return Band(
            self.start - before * step,
            self.stop + after * step,
            smooth_curve(share, self.upper_px, 2)[0],
            smooth_curve(share, self.lower_px, 2)[0],
            share,
            self.upper_px,
            self.lower_px,
        )

    def between(self, low: float, high: float) -> Band | None:
        """Return the part of the bar between two shares, or None where it has too few edge points.

        Its edges are drawn anew: what lies beyond may be another thing's.
        """
        share = np.asarray((self.shares - low) / (high - low), dtype=np.float64)
        used = (share > -0.01) & (share < 1.01)
        upper, lower = self.upper_px[used], self.lower_px[used]
        if min(np.isfinite(upper).sum(), np.isfinite(lower).sum()) < _FEWEST_POINTS:
            return None
        step = self.stop - self.start
        return Band(
            self.start + low * step,
            self.start + high * step,
            smooth_curve(share[used], upper, 3)[0],
            smooth_curve(share[used], lower, 3)[0],
            share[used],
            upper,
            lower,
        )


def faces_right(start: Floats, stop: Floats) -> bool:
    """Return whether a bar runs left to right, or upwards where it stands more than it lies."""
    step = stop - start
    return bool(step[0] > 0 if abs(step[0]) >= abs(step[1]) else step[1] < 0)


def along_curve(coefficients: Floats, share: float | Floats) -> Floats:
    """Return a polynomial's values, the highest power first; for short ones and many calls."""
    value: Floats = coefficients[0]
    for one in coefficients[1:]:
        value = value * share + one
    return value


def smooth_curve(share: Floats, values: Floats, degree: int) -> tuple[Floats, NDArray[np.bool_]]:
    """Return a robust polynomial through values, and which of them it keeps."""
    keep = np.isfinite(values)
    coefficients = np.zeros(degree + 1)
    for _ in range(5):
        if keep.sum() < degree + 2:
            break
        coefficients = np.polyfit(share[keep], values[keep], degree)
        off = np.abs(values - along_curve(coefficients, share))
        scatter = max(0.4, 1.4826 * median(off[keep]))
        again = np.isfinite(values) & (np.nan_to_num(off, nan=np.inf) < 3 * scatter)
        if (again == keep).all():
            break
        keep = again
    return coefficients, keep
