"""The course of a face's grain: by how much it runs off the board's length, over the whole face."""

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.vision.cv import painted
from scanner.vision.grain import grain_field

# Ring lines and pores are seen at this scale, and a long board is read in a fraction of a second.
_MM_PER_PX = 0.5
# The arris and what hangs over it do not speak of the grain.
_INNER_MM = 6.0
# Below this a place has no direction.
_LEAST_COHERENCE = 0.2
# Wilder than this is a knot's doing or the arch of a flat-sawn face, not the board's course.
_MOST_DEG = 30.0
_LEAST_SHARE = 0.2


def course_deg(
    pixels: NDArray[np.uint8],
    mm_per_px: float,
    origin_mm: tuple[float, float],
    outline: Polygon,
    flaws: tuple[Polygon, ...] = (),
) -> float | None:
    """Return the mean direction of the grain, degrees from x towards y; None where none shows.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 RGB, flat, the board along x.
    origin_mm
        Board mm of the centre of the first pixel.
    outline, flaws
        Board mm; flaws and their surroundings are left out.
    """
    shrink = min(1.0, mm_per_px / _MM_PER_PX)
    size = (max(1, round(pixels.shape[1] * shrink)), max(1, round(pixels.shape[0] * shrink)))
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    scale = mm_per_px * pixels.shape[1] / size[0]
    light = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY).astype(np.float32)
    wood = painted((outline.buffer(-_INNER_MM),), origin_mm, scale, light.shape)
    around = [flaw.buffer(2 * _INNER_MM) for flaw in flaws]
    wood &= ~painted(around, origin_mm, scale, light.shape)
    if not wood.any():
        return None
    field = grain_field(light, wood, scale)
    angle = np.degrees(field.angle_rad)
    speaks = wood & (field.coherence > _LEAST_COHERENCE) & (np.abs(angle) < _MOST_DEG)
    if speaks.sum() < _LEAST_SHARE * wood.sum():
        return None
    weight = field.coherence[speaks].astype(np.float64)
    order = np.argsort(angle[speaks])
    # The median by weight: an arch runs to both sides, a knot's surroundings are few.
    half = np.searchsorted(np.cumsum(weight[order]), weight.sum() / 2)
    return float(angle[speaks][order][half])
