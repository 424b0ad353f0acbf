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
    from scanner.vision.flaws.surface import Floats

_SMOOTH_PX = 9
# Slopes over which a share is gathered along a line, and how far.
_SLOPES = (-0.16, -0.08, 0.0, 0.08, 0.16)
_GATHER_PX = 41


def course_of(region: Region, share: Floats) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
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


def gathered(share: Floats) -> Floats:
    """Return the greatest mean share over 20 mm of line through each pixel, by its best slope.

    A crack that is hardly seen anywhere is still seen along its whole length.
    """
    wide = cv2.dilate(share, np.ones((3, 1), np.uint8))
    rows, columns = share.shape
    best = np.zeros_like(share)
    for slope in _SLOPES:
        lean = np.array([[1, 0, 0], [slope, 1, -slope * columns / 2]], dtype=np.float64)
        room = int(np.ceil(abs(slope) * columns / 2)) + 1
        lean[1, 2] += room
        size = (columns, rows + 2 * room)
        flat = cv2.warpAffine(wide, lean, size, flags=cv2.INTER_LINEAR)
        flat = cv2.blur(flat, (_GATHER_PX, 1), borderType=cv2.BORDER_REPLICATE)
        back = cv2.warpAffine(
            flat, lean, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        best = np.maximum(best, back)
    # Gathering adds to a line's length, not to its width.
    return np.asarray(np.minimum(best, 2.0 * wide + 0.05), dtype=np.float32)
