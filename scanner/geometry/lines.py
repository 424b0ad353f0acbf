"""Straight lines through noisy points; distance from a line."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line by a point on it (2,) and its unit direction (2,)."""

    point: Floats
    direction: Floats

    @property
    def normal(self) -> Floats:
        """The direction turned by a quarter from x towards y."""
        return np.array([-self.direction[1], self.direction[0]])

    def distances(self, points: Floats) -> Floats:
        """Return signed distances of points (N, 2), positive on the side of ``normal``."""
        return np.asarray((np.asarray(points) - self.point) @ self.normal)

    def along(self, points: Floats) -> Floats:
        """Return how far along the line the feet of points (N, 2) lie from ``point``."""
        return np.asarray((np.asarray(points) - self.point) @ self.direction)


def fit_line(points: Floats, weights: Floats | None = None) -> Line:
    """Return the line of least squared distances from points (N, 2), N >= 2."""
    points = np.asarray(points, dtype=np.float64)
    if len(points) < 2:
        raise ValueError(f"a line needs two points or more, got {len(points)}")
    share = np.ones(len(points)) if weights is None else np.asarray(weights, dtype=np.float64)
    if share.sum() <= 0:
        share = np.ones(len(points))
    middle = (points * share[:, None]).sum(axis=0) / share.sum()
    off = (points - middle) * np.sqrt(share)[:, None]
    # Along the larger half-axis of the scatter: of a 2 by 2 matrix, half of its angle.
    (across_x, mixed), (_, across_y) = off.T @ off
    angle = 0.5 * math.atan2(2 * mixed, across_x - across_y)
    direction = np.array([math.cos(angle), math.sin(angle)])
    # The sense follows the order of the points, so that callers need not turn lines.
    if (points[-1] - points[0]) @ direction < 0:
        direction = -direction
    return Line(middle, direction)


def fit_line_robustly(points: Floats, sd: float, rounds: int = 5) -> tuple[Line, Floats]:
    """Return the line through most points (N, 2), and each point's weight, 0 to 1.

    Tukey's biweight at 4.7 sd, started from half the points nearest to a first line;
    ``sd`` is the smallest scatter to believe in.
    """
    points = np.asarray(points, dtype=np.float64)
    weights = np.ones(len(points))
    line = fit_line(points)
    for _ in range(rounds):
        off = line.distances(points)
        scatter = max(sd, 1.4826 * median(np.abs(off)))
        share = np.maximum(1 - (off / (4.685 * scatter)) ** 2, 0.0)
        weights = share**2
        if weights.sum() < 2:
            break
        line = fit_line(points, weights)
    return line, weights


def median(values: Floats) -> float:
    """Return the median; for a few dozen values most of the library's time is its preparation."""
    rising, middle = np.sort(values), len(values) // 2
    return float(rising[middle] if len(values) % 2 else (rising[middle - 1] + rising[middle]) / 2)
