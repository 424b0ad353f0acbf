"""How blurred a photo is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Beyond this share a photo is told to be not sharp. A sharp picture lies under 0.5, one blurred by
# 5 px (sd) over this (``tests/vision/test_photo.py``).
BLURRED = 0.72
_FIXED_POINT = 128


def blur_share(pixels: NDArray[np.uint8]) -> float:
    """Return how little a picture changes when it is blurred once more: 0 sharp to 1 blurred.

    References
    ----------
    F. Crete and others, "The blur effect: perception and estimation with a new no-reference
    perceptual blur metric", SPIE 6492 (2007); here on the middle of the picture, the sharper of
    both directions.
    """
    height, width = pixels.shape[:2]
    rows = slice(max(0, height // 2 - 512), height // 2 + 512)
    columns = slice(max(0, width // 2 - 768), width // 2 + 768)
    grey = cv2.cvtColor(np.ascontiguousarray(pixels[rows, columns]), cv2.COLOR_RGB2GRAY)
    # Sensor noise is not sharpness. Fixed point: as exact as needed, and quick.
    sharp = cv2.GaussianBlur(grey.astype(np.uint16) * _FIXED_POINT, (0, 0), 0.8)
    shares = []
    for axis, window in ((1, (9, 1)), (0, (1, 9))):
        change = _change(sharp, axis)
        # What falls below zero is cut off there.
        lost = cv2.subtract(change, _change(cv2.blur(sharp, window), axis))
        total = cv2.sumElems(change)[0]
        shares.append(1.0 - cv2.sumElems(lost)[0] / total if total > 0 else 1.0)
    return min(shares)


def _change(values: cv2.typing.MatLike, axis: int) -> cv2.typing.MatLike:
    """Return how much neighbours along an axis differ."""
    if axis == 1:
        return cv2.absdiff(values[:, 1:], values[:, :-1])
    return cv2.absdiff(values[1:], values[:-1])
