"""Small things drawn into a picture of light: polygons with soft borders, and their shadows."""

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32

_PART = 4  # binary places of a pixel that polygons are drawn to


class Overlay:
    """Layers as large as the picture; drawn in turn, the last one on top."""

    def __init__(self, height: int, width: int) -> None:
        self._cover = np.zeros((height, width), dtype=np.uint8)
        self._ink = np.zeros((height, width, 3), dtype=np.uint8)
        self._dark = np.zeros((height, width), dtype=np.uint8)

    def shade(self, corners_px: NDArray[np.float64], deep: float) -> None:
        """Darken a polygon (N, 2) by a share."""
        points = np.round(corners_px * 2**_PART).astype(np.int32)
        cv2.fillPoly(self._dark, [points], int(255 * deep), cv2.LINE_AA, _PART)

    def fill(self, corners_px: NDArray[np.float64], light: F32, cover: float = 1.0) -> None:
        """Fill a polygon (N, 2) with linear light (3,)."""
        points = np.round(corners_px * 2**_PART).astype(np.int32)
        ink = [float(v) for v in 255 * np.sqrt(np.clip(light, 0, 1))]
        # The ink runs a pixel past the cover, or the cover's soft border would be black.
        cv2.polylines(self._ink, [points], True, ink, 3, cv2.LINE_8, _PART)
        cv2.fillPoly(self._ink, [points], ink, cv2.LINE_8, _PART)
        cv2.fillPoly(self._cover, [points], int(255 * cover), cv2.LINE_AA, _PART)

    def lay(self, picture: F32, allowed: NDArray[np.bool_]) -> None:
        """Lay everything into the picture (H, W, 3), in place, where it is allowed."""
        at = np.nonzero((self._dark > 0) & allowed)
        picture[at] *= (1 - self._dark[at].astype(np.float32) / 255)[:, None]
        at = np.nonzero((self._cover > 0) & allowed)
        cover = (self._cover[at].astype(np.float32) / 255)[:, None]
        ink = (self._ink[at].astype(np.float32) / 255) ** 2
        picture[at] += (ink - picture[at]) * cover
