"""Thin lines in a map of shares: gathered along their length, and the course that each takes.

How a line looks beside this was tried too: its darkness, whether it runs on past its tips, its
colour, how its two sides differ, how it leaves the grain, how it opens towards an end. On 80
rendered faces none of it told cracks from ring lines better than the network's share does already.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.flaws.learned_regions import Region
    from scanner.vision.flaws.surface import Singles

_SMOOTH_PX = 9
# Slopes over which a share is gathered along a line, and how far.
_SLOPES = (-0.16, -0.08, 0.0, 0.08, 0.16)
_GATHER_PX = 41
# Gathering adds to a line's length, not to its width: it is at most so much of a share near by.
_MOST_TIMES, _MOST_MORE = 2.0, 0.05
# A face is gone through in parts of so many columns; over `_GATHER_PX` a line rises by less.
_PART_PX, _ROOM_PX = 512, 6


def course_of(region: Region, share: Singles) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    """Return a line's columns and its smooth row in each (face px)."""
    h, w = region.pixels.shape
    cut = share[region.row : region.row + h, region.column : region.column + w]
    weight = np.where(region.pixels, cut + 1e-3, 0.0).astype(np.float64)
    total = weight.sum(axis=0)
    have = total > 0
    height = np.arange(h)[:, None]
    middle = (weight * height).sum(axis=0)[have] / total[have]
    x = np.arange(w)
    y = np.interp(x, x[have], middle)
    smooth = cv2.blur(y.reshape(1, -1), (_SMOOTH_PX, 1), borderType=cv2.BORDER_REPLICATE).ravel()
    return x + region.column, np.asarray(smooth, dtype=np.float64) + region.row


def gathered(share: Singles, least: float = 0.0) -> Singles:
    """Return the greatest mean share over 20 mm of line through each pixel, by its best slope.

    A crack that is hardly seen anywhere is still seen along its whole length. ``least``: where no
    more than this can come of it, which is most of a face, it may be left out.
    """
    wide = np.asarray(cv2.dilate(share, np.ones((3, 1), np.uint8)), np.float32)
    best = np.zeros_like(share)
    near = (least - _MOST_MORE) / _MOST_TIMES
    columns = share.shape[1]
    for start in range(0, columns, _PART_PX):
        stop = min(columns, start + _PART_PX)
        there = np.flatnonzero(wide[:, start:stop].max(axis=1) > near)
        if len(there):
            rows = slice(max(0, there[0] - _ROOM_PX), there[-1] + 1 + _ROOM_PX)
            best[rows, start:stop] = _gathered_part(wide[rows], start, stop)
    np.minimum(best, _MOST_TIMES * wide + _MOST_MORE, out=best)
    return best


def _gathered_part(wide: Singles, start: int, stop: int) -> Singles:
    """Return the best mean of columns ``start`` to ``stop``."""
    rows, columns = wide.shape
    left, right = max(0, start - _GATHER_PX), min(columns, stop + _GATHER_PX)
    part = np.ascontiguousarray(wide[:, left:right])
    best = np.zeros_like(part)
    width = right - left
    for slope in _SLOPES:
        # Leant about the same column of the face everywhere, so that parts fit each other.
        lean = np.array([[1, 0, 0], [slope, 1, slope * (left - columns / 2)]], dtype=np.float64)
        first = min(lean[1, 2], lean[1, 2] + slope * width)
        room = -int(np.floor(first)) + 1
        lean[1, 2] += room
        size = (width, rows + int(np.ceil(abs(slope) * width)) + 2)
        flat = cv2.warpAffine(part, lean, size, flags=cv2.INTER_LINEAR)
        flat = cv2.blur(flat, (_GATHER_PX, 1), borderType=cv2.BORDER_REPLICATE)
        back = cv2.warpAffine(
            flat, lean, (width, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        np.maximum(best, back, out=best)
    return best[:, start - left : stop - left]
