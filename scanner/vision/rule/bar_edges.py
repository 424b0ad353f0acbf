"""The two long edges of a bar in a photo, measured window by window along a rough line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled_grid

if TYPE_CHECKING:
    from numpy.typing import NDArray

# The bar is cut into windows about this many bar widths long; an edge is measured in each.
_WINDOW_WIDTHS = 0.6
# ... but a short wide rule still has two dozen of them.
_WINDOW_SHARE = 1 / 24
_ACROSS = 3.2
_PER_WIDTH = 32


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Both edges of a bar along a rough middle line.

    Attributes
    ----------
    start, direction, up
        Of the rough line: its start (2,) px, and unit vectors along and across it.
    length
        Of the rough line, px.
    centres
        (N,), where the windows lie along it, px; some lie before its start and past its end.
    upper, lower
        (N,), how far each edge is from the line, px (NaN: not seen); upper is the side of ``up``.
    rises
        (N,) brightness step across each edge, upper and lower.
    is_bright
        The bar is brighter than the ground.
    """

    start: Floats
    direction: Floats
    up: Floats
    length: float
    centres: Floats
    upper: Floats
    lower: Floats
    rises: tuple[Floats, Floats]
    is_bright: bool

    @property
    def share(self) -> Floats:
        """Where the windows lie, as shares of the rough line."""
        return np.asarray(self.centres / self.length, dtype=np.float64)

    @property
    def own(self) -> NDArray[np.bool_]:
        """Windows that lie well between the rough ends."""
        return np.asarray((self.centres > 0.1 * self.length) & (self.centres < 0.9 * self.length))

    def place(self, along: Floats, height: Floats) -> Floats:
        """Return points (..., 2) px at places along the rough line and heights over it."""
        steps = along[..., None] * self.direction + height[..., None] * self.up
        return np.asarray(self.start + steps)


def measure_edges(
    grey: Bytes, start: Floats, stop: Floats, wide: float, *, over: float
) -> Edges | None:
    """Return both edges of a bar, ``over`` px past its rough ends too, or None: no bar.

    Parameters
    ----------
    start, stop
        Rough ends of the middle line, px.
    wide
        Rough width, px.
    """
    step = stop - start
    length = float(np.linalg.norm(step))
    direction = step / length
    up = np.array([direction[1], -direction[0]])
    low, high = _inside_picture(grey, start, direction, -over, length + over)
    window = max(4.0, min(_WINDOW_WIDTHS * wide, _WINDOW_SHARE * length))
    count = int((high - low) / window)
    if count < 10:
        return None
    centres: Floats = np.asarray(low + (np.arange(count) + 0.5) * window, dtype=np.float64)
    heights = np.linspace(-_ACROSS / 2, _ACROSS / 2, int(_ACROSS * _PER_WIDTH) + 1) * wide
    per_window = max(3, int(window))
    inner = (np.arange(per_window) + 0.5) / per_window - 0.5
    s = (centres[:, None] + inner * window).ravel()
    x, y = (np.add.outer(start[axis] + s * direction[axis], heights * up[axis]) for axis in (0, 1))
    values = sampled_grid(grey, x, y).reshape(count, per_window, len(heights))
    # Polarity (a bright bar or a dark one) from the rough part itself.
    own = (centres > 0.1 * length) & (centres < 0.9 * length)
    if own.sum() < 5:
        return None
    mean = _quantile(values[own].reshape(1, -1, len(heights)), 0.5)[0]
    middle = mean[np.abs(heights) < 0.3 * wide].mean()
    outside = mean[np.abs(np.abs(heights) - 0.9 * wide) < 0.25 * wide].mean()
    bright = bool(middle > outside)
    # Dense graduations would move the mean edge inwards; between them the bare rule shows.
    profile = _quantile(values, 0.75 if bright else 0.25)
    # Signed so that outside is higher: the upper edge rises with height, the lower one falls.
    signed = profile if not bright else -profile
    guess = np.full(count, wide / 2)
    upper = _edge_height(signed, heights, guess, 0.25 * wide)
    lower = _edge_height(signed[:, ::-1], -heights[::-1], guess, 0.25 * wide) * -1
    if (np.isfinite(upper) & np.isfinite(lower) & own).sum() < 5:
        return None
    rises = (
        _strength_at(signed, heights, upper, 1.0),
        _strength_at(signed, heights, lower, -1.0),
    )
    return Edges(start, direction, up, length, centres, upper, lower, rises, bright)


def _quantile(values: NDArray[np.float32], share: float) -> Floats:
    """Return a quantile over the middle axis, as `numpy.quantile` in a fifth of the time."""
    # Sorting lies where the values lie side by side.
    rising = np.ascontiguousarray(values.swapaxes(1, 2))
    rising.sort(axis=2)
    at = share * (rising.shape[2] - 1)
    low = int(at)
    lower, upper = rising[..., low], rising[..., min(low + 1, rising.shape[2] - 1)]
    return np.asarray(lower + (upper.astype(np.float64) - lower) * (at - low))


def _edge_height(profile: Floats, heights: Floats, guess: Floats, reach: float) -> Floats:
    """Return the sub-pixel height of the outermost strong rise near a guess, one a window.

    Not the strongest: dense graduations make a second edge where they end.
    """
    rise = np.gradient(profile, axis=1)
    near = np.abs(heights[None] - guess[:, None]) < reach
    weight = np.where(near, np.maximum(rise, 0.0), 0.0)
    strong = weight > 0.55 * weight.max(axis=1, keepdims=True)
    edge = len(heights) - 1 - strong[:, ::-1].argmax(axis=1)
    # From the outermost strong sample to the top of its own step.
    close = np.abs(heights[None] - heights[edge][:, None]) < 1.5
    peak = np.where(close, weight, 0.0).argmax(axis=1)
    weight = weight**2
    step = heights[1] - heights[0]
    # Centroid about the peak only: ticks and shadows nearby must not pull it.
    close = np.abs(heights[None] - heights[peak][:, None]) < max(1.6, 3 * step)
    weight = np.where(close, weight, 0.0)
    total = weight.sum(axis=1)
    out = (weight * heights).sum(axis=1) / np.maximum(total, 1e-9)
    return np.where(total > 0, out, np.nan)


def _strength_at(profile: Floats, heights: Floats, at: Floats, sign: float) -> Floats:
    """Return the brightness step across an edge, one a window."""
    seen = np.isfinite(at)
    rows, step = np.arange(len(profile)), heights[1] - heights[0]
    sides = []
    for off in (-2.0, 2.0):
        place = (np.where(seen, at, 0.0) + sign * off - heights[0]) / step
        place = place.clip(0, len(heights) - 1)
        low = np.minimum(place.astype(np.int_), len(heights) - 2)
        part = place - low
        sides.append(profile[rows, low] * (1 - part) + profile[rows, low + 1] * part)
    return np.where(seen, sides[1] - sides[0], 0.0)


def _inside_picture(
    grey: Bytes, start: Floats, direction: Floats, low: float, high: float
) -> tuple[float, float]:
    reach = np.arange(low, high, 1.0)
    points = start + reach[:, None] * direction
    size = np.array([grey.shape[1], grey.shape[0]])
    inside = ((points >= 0) & (points <= size - 1)).all(axis=1)
    if not inside.any():
        return 0.0, 0.0
    return float(reach[inside][0]), float(reach[inside][-1])
