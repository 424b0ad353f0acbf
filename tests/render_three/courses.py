"""The course of a crack or a line: where both its lips lie, pixel column by pixel column."""

from dataclasses import dataclass

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.fields import line

# Fibres tear off at about their own size, however wide the gap.
_MOST_ROUGH_MM = 0.9


@dataclass(frozen=True)
class Course:
    """Both lips of a line on the canvas, px.

    ``first``: the first column (row where ``upright``); ``upper`` and ``lower``: rows (columns) of
    the lips there and at each one on; ``shade``: how bright it is inside against the wood, 0-1.
    """

    first: int
    upper: np.ndarray
    lower: np.ndarray
    shade: np.ndarray
    upright: bool = False

    @property
    def widths_mm(self) -> np.ndarray:
        return np.maximum(self.lower - self.upper, 0) * BASE_MM

    def polygon(self, least_mm: float = 0.0) -> np.ndarray:
        """Return the outline (N, 2) px of the canvas, nowhere thinner than ``least_mm``."""
        count = len(self.upper)
        at = np.unique(np.linspace(0, count - 1, max(int(count / 6), 4)).astype(int))
        middle = (self.upper + self.lower)[at] / 2
        half = np.maximum(self.lower - self.upper, least_mm / BASE_MM)[at] / 2
        along = (self.first + at).astype(float)
        ring = np.concatenate(
            [
                np.column_stack([along, middle - half]),
                np.column_stack([along, middle + half])[::-1],
            ]
        )
        return ring[:, ::-1] if self.upright else ring

    def divided(self, keep: np.ndarray) -> list["Course"]:
        """Return the runs of columns where ``keep`` holds."""
        ends = np.flatnonzero(np.diff(np.concatenate([[0], keep.astype(int), [0]])))
        return [
            Course(
                self.first + int(a),
                self.upper[a:b],
                self.lower[a:b],
                self.shade[a:b],
                self.upright,
            )
            for a, b in zip(ends[::2], ends[1::2], strict=True)
            if b - a >= 4
        ]


def course_of(
    along_mm: np.ndarray,
    across_mm: np.ndarray,
    width_mm: np.ndarray,
    shade: np.ndarray,
    rough: tuple[np.ndarray, np.ndarray] | None = None,
    *,
    upright: bool = False,
) -> Course:
    """Return the course through points (mm of the canvas, ``along_mm`` rising).

    ``width_mm`` and ``shade`` are told from start to end at as many even places as one likes;
    ``rough``: how far each lip strays, as a share of the width (of `_MOST_ROUGH_MM` where it gapes
    wider), at every pixel (any length).
    """
    first = int(np.ceil(along_mm[0] / BASE_MM))
    last = max(int(np.floor(along_mm[-1] / BASE_MM)), first + 3)
    at = np.arange(first, last + 1)
    t = (at - first) / max(last - first, 1)
    middle = np.interp(at * BASE_MM, along_mm, across_mm) / BASE_MM
    width = np.interp(t, np.linspace(0, 1, len(width_mm)), width_mm) / BASE_MM
    inside = np.interp(t, np.linspace(0, 1, len(shade)), shade)
    upper, lower = middle - width / 2, middle + width / 2
    if rough is not None:
        share = np.minimum(width, _MOST_ROUGH_MM / BASE_MM)
        upper = upper + np.resize(rough[0], len(at)) * share
        lower = lower + np.resize(rough[1], len(at)) * share
    lower = np.maximum(lower, upper + 0.02)
    return Course(first, upper, lower, np.clip(inside, 0.005, 1.0), upright)


def stepped(rng: np.random.Generator, along_mm: np.ndarray, size_mm: float, every_mm: float):
    """Return sudden small shifts of a line along its way, (N,) mm: it jumps from ring to ring."""
    span = float(np.ptp(along_mm)) or 1.0
    count = rng.poisson(span / every_mm)
    shift = np.zeros(len(along_mm))
    way = rng.choice([-1.0, 1.0])
    for place in rng.uniform(along_mm.min(), along_mm.max(), count):
        jump = way * abs(rng.normal(0, size_mm)) * (1 if rng.random() < 0.8 else -1)
        shift += jump / (1 + np.exp(-np.clip((along_mm - place) / rng.uniform(0.3, 2), -40, 40)))
    return shift


def uneven(rng: np.random.Generator, count: int, over: float, spread: float) -> np.ndarray:
    """Return a factor along a line, about 1, alike over ``over`` values."""
    return np.exp(line(rng, count, over) * spread)
