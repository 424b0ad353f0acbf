"""The rings of a face in their order: followed along the board, laid out from the pith."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter1d

from scanner.board.ring_series import STEP_MM, RingSeries

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.ring_fit import RingFit

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

# Rows of a crosscut, whatever the picture's own.
_ROW_MM = 0.5
# Rings are followed in windows of this sd, the pattern renewed by this share a slice.
_WINDOW_MM, _RENEWED = 3.5, 0.12
# Followed so many slices each way from the middle: on a long board rings drift out of step.
_EACH_WAY = 60
# A slice or a row that shows less clear wood than this tells nothing.
_LEAST_CLEAR, _LEAST_SLICES = 0.15, 8
# Nearer to the pith's foot than this share of its depth rings lie along the face: no crosscut
# shows them.
_STEEP, _FOOT_MM = 0.3, 3.0
# Shorter than this a series is like many others.
_LEAST_MM = 16.0
# Changes slower than this are no rings, and strength is evened out over so much, mm.
_SLOW_MM, _EVEN_MM, _FINE_MM = 8.0, 12.0, 0.3
_MOST = 2.5


def series_of(
    crosscuts: tuple[Floats, Flags],
    y_mm: Floats,
    fit: RingFit,
    face: int,
    thickness_mm: float,
) -> tuple[RingSeries, ...]:
    """Return the rings of a face, on each side of the pith and parted where none show.

    Parameters
    ----------
    crosscuts
        Ring pattern (H, C) and where it is clear wood, see `ring_spectrum.crosscuts`.
    y_mm
        (H,) the rows' places across the board, from the middle of its width.
    fit
        Where the pith lies.
    """
    depth_mm = fit.depth_mm + (0.0 if face == fit.heart_face else thickness_mm)
    rows = np.arange(y_mm[0], y_mm[-1] + 1e-6, _ROW_MM)
    light, clear = (_at_rows(one.astype(float), y_mm, rows) for one in crosscuts)
    mean, count = _followed(light, clear > 0.5)
    found = []
    for side in (-1, 1):
        across = (rows - fit.pith_mm) * side
        use = (count > _LEAST_SLICES) & (across > max(_STEEP * depth_mm, _FOOT_MM))
        for run in _runs(use):
            radius = np.hypot(across[run], depth_mm)
            if np.ptp(radius) >= _LEAST_MM:
                found.append(_laid_out(radius, mean[run], face))
    return tuple(found)


def _at_rows(values: Floats, y_mm: Floats, rows_mm: Floats) -> Floats:
    """Return (H, C) values at other rows."""
    if len(y_mm) == len(rows_mm):
        return values
    return np.column_stack([np.interp(rows_mm, y_mm, column) for column in values.T])


def _runs(use: Flags) -> list[NDArray[np.int64]]:
    at = np.flatnonzero(use)
    # A row or two without wood is bridged, a knot is not.
    return np.split(at, np.flatnonzero(np.diff(at) > 2) + 1) if len(at) else []


def _followed(slices: Floats, clear: Flags) -> tuple[Floats, Floats]:
    """Return the mean crosscut (H,) at the middle, rings followed along the face, and its counts.

    Ring borders wander along a board; a plain mean would wash them out.
    """
    rows = np.arange(len(slices), dtype=np.float64)
    total, count = np.zeros(len(rows)), np.zeros(len(rows))
    shown = clear.mean(axis=0)
    good = np.flatnonzero(shown > 0.4 * shown.max())
    if not len(good):
        return total, count
    strength = np.sqrt((slices**2).sum(axis=0) / np.maximum(clear.sum(axis=0), 1))
    calm = np.clip(slices / np.maximum(strength, 1e-6), -3, 3)
    middle = int(good[len(good) // 2])
    start = calm[:, max(middle - 2, 0) : middle + 3].mean(axis=1)
    last, first = min(middle + _EACH_WAY, calm.shape[1]), max(middle - _EACH_WAY, 0)
    for columns in (range(middle, last), range(middle - 1, first - 1, -1)):
        like, place, drift = start.copy(), rows.copy(), np.zeros(len(rows))
        for c in columns:
            if shown[c] <= _LEAST_CLEAR:
                continue
            step = _step(like, calm[:, c], place + drift)
            place = np.maximum.accumulate(place + drift + step)
            drift = np.clip(0.85 * drift + 0.175 * step, -2, 2)
            seen = np.interp(place, rows, calm[:, c], left=0, right=0)
            weight = np.interp(place, rows, clear[:, c].astype(float), left=0, right=0)
            total += seen * weight
            count += weight
            like = np.where(weight > 0.5, (1 - _RENEWED) * like + _RENEWED * seen, like)
    return np.where(count > _LEAST_SLICES, total / np.maximum(count, 1), 0), count


def _step(like: Floats, column: Floats, place: Floats) -> Floats:
    """Return how many rows the rings lie further in the next slice, row by row."""
    rows = np.arange(len(like))
    steps = np.arange(-2, 2.01, 0.5)
    sd = _WINDOW_MM / _ROW_MM
    moved = np.interp(place[None, :] + steps[:, None], rows, column, left=0, right=0)
    fits = gaussian_filter1d(like * moved, sd, axis=1, mode="constant")
    fits -= 0.02 * steps[:, None] ** 2 * np.maximum(fits.max(axis=0), 0.05)
    best = np.clip(fits.argmax(axis=0), 1, len(steps) - 2)
    below, here, above = fits[best - 1, rows], fits[best, rows], fits[best + 1, rows]
    bend = below - 2 * here + above
    between = np.where(np.abs(bend) > 1e-9, 0.5 * (below - above) / np.where(bend, bend, 1), 0)
    found = steps[best] + 0.5 * np.clip(between, -0.5, 0.5)
    sure = np.clip(fits.max(axis=0), 0, None) + 1e-4
    drift: Floats = gaussian_filter1d(found * sure, sd) / gaussian_filter1d(sure, sd)
    return drift


def _laid_out(radius_mm: Floats, profile: Floats, face: int) -> RingSeries:
    """Return a profile by even steps from the pith, slow changes and its strength evened out."""
    order = np.argsort(radius_mm)
    fine = np.arange(radius_mm.min(), radius_mm.max(), STEP_MM / 2)
    even = np.interp(fine, radius_mm[order], profile[order])
    per_mm = 2 / STEP_MM
    slow = gaussian_filter1d(even, _SLOW_MM * per_mm, mode="nearest")
    even = gaussian_filter1d(even - slow, _FINE_MM * per_mm)
    local = np.sqrt(gaussian_filter1d(even * even, _EVEN_MM * per_mm, mode="nearest"))
    light = np.clip(even / np.maximum(local, 0.3 * even.std() + 1e-6), -_MOST, _MOST)[::2]
    return RingSeries(face, float(radius_mm.min()), tuple(round(float(v), 1) + 0.0 for v in light))
