"""The rings of a face followed along the board, and laid out from where the pith may lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from scanner.board.ring_series import STEP_MM

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
_STEEP, _FOOT_MM = 0.15, 3.0
# Shorter than this a series is like many others.
_LEAST_MM = 12.0
# Changes slower than this are no rings, and strength is evened out over so much, mm.
_SLOW_MM, _EVEN_MM, _FINE_MM = 8.0, 12.0, 0.3
# One dark streak shall not outweigh the rings: so many times the local spread at most.
_MOST = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class FollowedRings:
    """The rings of a face, followed along the board and laid on one crosscut.

    Attributes
    ----------
    y_mm
        (H,) where each lies on the mean over the board, from the middle of its width, never
        falling: rings wander, and their mean place is nearer to a round log's than on any one
        crosscut.
    light
        (H,) their mean light, 0 where too few slices show it.
    seen
        (H,) whether enough do.
    """

    y_mm: Floats
    light: Floats
    seen: Flags


def follow(crosscuts: tuple[Floats, Flags], y_mm: Floats) -> FollowedRings:
    """Return the rings of a face as they lie on the mean over the board.

    Parameters
    ----------
    crosscuts
        Ring pattern (H, C) and where it is clear wood, see `ring_spectrum.crosscuts`.
    y_mm
        (H,) the rows' places across the board, from the middle of its width.
    """
    rows = np.arange(y_mm[0], y_mm[-1] + 1e-6, _ROW_MM)
    light, clear = (_at_rows(one.astype(float), y_mm, rows) for one in crosscuts)
    mean, count, place = _followed(light, clear > 0.5)
    across = np.interp(np.maximum.accumulate(place), np.arange(len(rows)), rows)
    return FollowedRings(across, mean, count > _LEAST_SLICES)


def outward(
    rings: FollowedRings, side: int, pith_mm: float, depth_mm: float
) -> tuple[tuple[float, Floats], ...]:
    """Return the runs of rings on one side of the pith (-1 or 1), where it lay at such a place.

    Each is its first distance from the pith and its evened light, a value every `STEP_MM`.
    """
    across = (rings.y_mm - pith_mm) * side
    use = rings.seen & (across > max(_STEEP * depth_mm, _FOOT_MM))
    found = []
    for run in _runs(use):
        radius = np.hypot(across[run], depth_mm)
        if np.ptp(radius) >= _LEAST_MM:
            found.append((float(radius.min()), _laid_out(radius, rings.light[run])))
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


def _followed(slices: Floats, clear: Flags) -> tuple[Floats, Floats, Floats]:
    """Return the mean crosscut (H,) at the middle, its counts, and the rows' mean places.

    Rings are followed along the face: a plain mean would wash them out. Places are meant over
    as far on one side of the middle as on the other, so that a steady slant cancels out.
    """
    rows = np.arange(len(slices), dtype=np.float64)
    total, count = np.zeros(len(rows)), np.zeros(len(rows))
    shown = clear.mean(axis=0)
    good = np.flatnonzero(shown > 0.4 * shown.max())
    if not len(good):
        return total, count, rows
    strength = np.sqrt((slices**2).sum(axis=0) / np.maximum(clear.sum(axis=0), 1))
    calm = np.clip(slices / np.maximum(strength, 1e-6), -3, 3)
    middle = int(good[len(good) // 2])
    start = calm[:, max(middle - 2, 0) : middle + 3].mean(axis=1)
    last, first = min(middle + _EACH_WAY, calm.shape[1]), max(middle - _EACH_WAY, 0)
    reach = min(last - middle, middle - first + 1)
    moved, moves = np.zeros(len(rows)), 0
    for columns in (range(middle, last), range(middle - 1, first - 1, -1)):
        like, place, drift = start.copy(), rows.copy(), np.zeros(len(rows))
        for c in columns:
            if shown[c] <= _LEAST_CLEAR:
                continue
            step = _step(like, calm[:, c], place + drift)
            place = np.maximum.accumulate(place + drift + step)
            drift = np.clip(0.85 * drift + 0.175 * step, -2, 2)
            if abs(c - middle) < reach:
                moved, moves = moved + place - rows, moves + 1
            seen = np.interp(place, rows, calm[:, c], left=0, right=0)
            weight = np.interp(place, rows, clear[:, c].astype(float), left=0, right=0)
            total += seen * weight
            count += weight
            like = np.where(weight > 0.5, (1 - _RENEWED) * like + _RENEWED * seen, like)
    mean = np.where(count > _LEAST_SLICES, total / np.maximum(count, 1), 0)
    return mean, count, rows + moved / max(moves, 1)


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


def _laid_out(radius_mm: Floats, profile: Floats) -> Floats:
    """Return a profile by even steps from the pith, slow changes and its strength evened out."""
    order = np.argsort(radius_mm)
    fine = np.arange(radius_mm.min(), radius_mm.max(), STEP_MM / 2)
    even = np.interp(fine, radius_mm[order], profile[order])
    per_mm = 2 / STEP_MM
    slow = gaussian_filter1d(even, _SLOW_MM * per_mm, mode="nearest")
    even = gaussian_filter1d(even - slow, _FINE_MM * per_mm)
    local = np.sqrt(gaussian_filter1d(even * even, _EVEN_MM * per_mm, mode="nearest"))
    light: Floats = np.clip(even / np.maximum(local, 0.3 * even.std() + 1e-6), -_MOST, _MOST)
    return light[::2]
