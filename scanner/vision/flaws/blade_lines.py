"""Thin lines that are blades of grass over a face, and no cracks.

A crack takes light of all colours away, and on wood more blue than red. A blade takes less green
away: its thin tips stay in the picture after `without_blades`, since wood shines through them. On
red and dark wood a black crack, too, is greener than the wood; but never greener than grey.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.surface import WORK_MM_PER_PX, paint

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.flaws.surface import Singles, Surface

# The wood beside a line lies between these two distances from it.
_SOFT_RIM_MM, _BESIDE_MM = 1.5, 5.0
# A pixel this much darker than the wood beside (natural logarithm) is the line's own.
_DARK = 0.12
_FEWEST_PX = 6
# Green that is left, by itself and by the darkness, of a line that is no crack; wood's own brown
# explains `_OF_BROWN` of what a crack shows. On used-up boards (whole scans of 7403-7440, flat
# faces of 5200-5371) all 31 cracks inside the board have at most 0.006 and 0.031, nine blades at
# least 0.021 and 0.041; a tenth, dried up, is as brown as wood.
_LEAST_GREEN, _GREENER, _OF_BROWN = 0.012, 0.03, 0.25
_BLACK = 0.03
# Green over the mean of red and blue, of 1: a blade has so much more than wood and grey both, with
# however much wood shining through it.
_OVER_GREY = 0.01


def is_blade(surface: Surface, outline: Polygon) -> bool:
    """Return whether a line (outline, face mm) is greener than the wood beside it and than grey.

    Not to be asked of a line that starts at an end: a split that stands open there shows what
    grows beneath.
    """
    low_x, low_y, high_x, high_y = outline.buffer(_BESIDE_MM).bounds
    rows, columns = surface.wood.shape
    left, top = surface.origin_mm
    x0, x1 = (_px(x - left, columns) for x in (low_x, high_x))
    y0, y1 = (_px(y - top, rows) for y in (low_y, high_y))
    window = (slice(y0, y1 + 1), slice(x0, x1 + 1))
    wood = surface.wood[window]
    origin = (left + x0 * WORK_MM_PER_PX, top + y0 * WORK_MM_PER_PX)
    line = paint(outline, origin, wood.shape) & wood
    near = paint(outline.buffer(_SOFT_RIM_MM), origin, wood.shape)
    beside = paint(outline.buffer(_BESIDE_MM), origin, wood.shape) & wood & ~near
    if line.sum() < _FEWEST_PX or beside.sum() < _FEWEST_PX:
        return False
    rgb = cv2.cvtColor(surface.lab[window], cv2.COLOR_LAB2RGB)
    around = np.median(rgb[beside], axis=0)
    red, green, blue = (np.log(rgb[line] + _BLACK) - np.log(around + _BLACK)).T
    darker = -(red + green + blue) / 3
    own = darker > _DARK
    if own.sum() < _FEWEST_PX:
        return False
    over_grey = float(np.median(_over_grey(rgb[line][own])))
    if over_grey < max(float(_over_grey(around)), 0.0) + _OVER_GREY:
        return False
    greener = float(np.median((green - (red + blue) / 2 - _OF_BROWN * (red - blue))[own]))
    return greener > max(_LEAST_GREEN, _GREENER * float(np.median(darker[own])))


def _over_grey(rgb: Singles) -> Singles:
    """Return (...) green over the mean of red and blue, of (..., 3)."""
    return np.asarray(rgb[..., 1] - (rgb[..., 0] + rgb[..., 2]) / 2)


def _px(at_mm: float, most: int) -> int:
    return int(np.clip(round(at_mm / WORK_MM_PER_PX), 0, most - 1))
