"""Marks of cracks laid onto the dark line that shows: a camera's height is off, so are its marks.

A face lies bowed on its floor, so where a crack is drawn by its truth and where it shows in the
flattened photograph are up to 1.5 mm apart. A network shown such pairs learns to be vague.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# How far the line may lie off its mark, px, and how readily the difference changes along it.
_OFF_PX = 5
_STEP_PX = 4
_BEND_COST = 0.6
# Staying near the mark is worth a little: under a dark ring line it is all there is.
_OFF_COST = 0.06
_MOST_UNITS = 3.0
# A crack shows so much wider than it is drawn, to either side.
_SHOWN_PX = 1.0
_FEWEST_COLUMNS = 12


def snapped(ring: Floats, pixels: NDArray[np.uint8]) -> Floats:
    """Return a crack's outline moved across the board onto the darkest line near it.

    Parameters
    ----------
    ring
        (N, 2) px of the outline, the board along x.
    pixels
        (H, W, 3) uint8 of the face.

    Returns
    -------
    ndarray
        (M, 2) px: the same length and widths, wider by what a photograph adds.
    """
    x0, x1 = (round(float(v)) for v in (ring[:, 0].min(), ring[:, 0].max()))
    x0, x1 = max(x0, 0), min(x1, pixels.shape[1] - 1)
    at = np.arange(x0, x1 + 1, _STEP_PX)
    if len(at) * _STEP_PX < _FEWEST_COLUMNS:
        return ring
    middle, half = _course(ring, at)
    top = max(int(middle.min()) - 3 * _OFF_PX, 0)
    bottom = min(int(middle.max()) + 3 * _OFF_PX + 1, pixels.shape[0])
    if bottom - top <= 2 * _OFF_PX:
        return ring
    gain = _darkness(pixels[top:bottom, x0 : x1 + 1])
    offs = np.arange(-_OFF_PX, _OFF_PX + 1)
    rows = np.clip(np.round(middle[:, None] + offs - top).astype(int), 0, bottom - top - 1)
    path = middle + offs[_best_path(gain[rows, (at - x0)[:, None]] - _OFF_COST * np.abs(offs))]
    low, high = path - half - _SHOWN_PX, path + half + _SHOWN_PX
    return np.vstack([np.column_stack([at, low]), np.column_stack([at, high])[::-1]])


def _course(ring: Floats, at: NDArray[np.int_]) -> tuple[Floats, Floats]:
    """Return the middle row of an outline at columns, and half its height there."""
    tall = round(float(np.ptp(ring[:, 1]))) + 3
    low = float(ring[:, 1].min()) - 1
    scale = 8
    canvas = np.zeros((tall * scale, len(at)), np.uint8)
    placed = np.column_stack([(ring[:, 0] - at[0]) / _STEP_PX, (ring[:, 1] - low) * scale])
    cv2.fillPoly(canvas, [np.round(placed * 16).astype(np.int32)], 1, shift=4)
    count = canvas.sum(axis=0).astype(np.float64)
    have = count > 0
    y = np.arange(len(canvas))[:, None]
    middle = (canvas * y).sum(axis=0)[have] / count[have] / scale + low
    every = np.arange(len(at))
    return np.interp(every, every[have], middle), np.interp(every, every[have], count[have]) / 2 / (
        scale
    )


def _darkness(pixels: NDArray[np.uint8]) -> Floats:
    """Return how much darker a line of 3 px is than both its sides, in the strip's own units."""
    grey = np.log(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32) + 4.0)
    along = cv2.blur(grey, (9, 1))
    line = cv2.blur(along, (1, 3))
    over, under = np.roll(along, 4, axis=0), np.roll(along, -4, axis=0)
    dark = np.minimum(over, under) - line
    spread = max(1.4826 * float(np.median(np.abs(dark - np.median(dark)))), 0.01)
    return np.clip(dark / spread, -1.0, _MOST_UNITS).astype(np.float64)


def _best_path(gain: Floats) -> NDArray[np.int_]:
    """Return the column (steps,) of the best unbroken path through gains (steps, offsets)."""
    total, came = gain[0].copy(), np.zeros(gain.shape, dtype=int)
    for step in range(1, len(gain)):
        moves = [np.full_like(total, -1e9) for _ in range(3)]
        moves[0][1:] = total[:-1] - _BEND_COST
        moves[1] = total
        moves[2][:-1] = total[1:] - _BEND_COST
        came[step] = np.argmax(moves, axis=0)
        total = np.max(moves, axis=0) + gain[step]
    path = np.zeros(len(gain), dtype=int)
    path[-1] = int(total.argmax())
    for step in range(len(gain) - 1, 0, -1):
        path[step - 1] = path[step] + came[step, path[step]] - 1
    return path
