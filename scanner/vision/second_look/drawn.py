"""Lines a person drew on a face: where chalk or crayon lies beside a wanted line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from scanner.vision.cv import painted
from scanner.vision.flaws.chalk_colour import GRID_MM, drawn_pixels

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Point = tuple[float, float]

# The wood's colour is told from what lies so far around, half of it beyond the rim.
_BEYOND_MM = 21.0
# The arris carries the floor's colour.
_RIM_PX = 1
_GAP_PX = 5
# A hand's line wanders and leans by this much.
_WANDER_MM = 2.5
_STEP_MM = 1.0
# Corners are rounded, crossed or not quite reached.
_INSET_MM = 12.0
# A run of offsets this wide is several strokes that meet, or grass beside one: a line lies
# anywhere in it, half a stroke from its ends.
_ONE_STROKE_MM, _HALF_STROKE_MM = 20.0, 6.0
# So much of a line's length must be drawn: chalk skips over the furrows of the saw.
_DRAWN_SHARE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class DrawnFace:
    """Which of a face's wood is drawn on: (H, W) 0..1, and where it lies, face mm."""

    drawn: Singles
    origin_mm: Point
    mm_per_px: float


def drawn_on(picture: FacePicture, outline: Polygon) -> DrawnFace:
    """Return what is drawn on a face.

    Parameters
    ----------
    picture
        The flat picture.
    outline
        The face to the arris, face mm.
    """
    x0, y0, x1, y1 = outline.buffer(_BEYOND_MM).bounds
    size = (math.ceil((x1 - x0) / GRID_MM) + 1, math.ceil((y1 - y0) / GRID_MM) + 1)
    ratio = GRID_MM / picture.mm_per_px
    move = np.array(
        [
            [ratio, 0, (x0 - picture.origin_mm[0]) / picture.mm_per_px],
            [0, ratio, (y0 - picture.origin_mm[1]) / picture.mm_per_px],
        ]
    )
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    soft = cv2.GaussianBlur(picture.pixels, (0, 0), max(0.3, 0.4 * ratio))
    rgb = cv2.warpAffine(soft, move, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    lab = np.asarray(cv2.cvtColor(rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB), np.float32)
    wood = painted((outline,), (x0, y0), GRID_MM, size[::-1]).astype(np.uint8)
    sure = cv2.erode(wood, np.ones((3, 3), np.uint8), iterations=_RIM_PX).astype(bool)
    if not sure.any():
        return DrawnFace(np.zeros(wood.shape, np.float32), (x0, y0), GRID_MM)
    seen = drawn_pixels(lab[_mirrored_beyond(sure)], sure).astype(np.uint8)
    # Chalk skips: gaps are closed, and crumbs that nobody drew are left out.
    closed = cv2.morphologyEx(seen, cv2.MORPH_CLOSE, _disc(_GAP_PX))
    drawn = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    broad = cv2.dilate(drawn, _disc(2 * round(_WANDER_MM / GRID_MM) + 1))
    return DrawnFace(broad.astype(np.float32), (x0, y0), GRID_MM)


def _mirrored_beyond(wood: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns that carry (H, W) wood out past its rim as in a mirror.

    Carried out by its last pixel, a stroke along the arris was most of what lies around it, and so
    taken for the wood.
    """
    nearest = distance_transform_edt(~wood, return_distances=False, return_indices=True)
    last = np.array(wood.shape)[:, None, None] - 1
    mirrored = np.clip(2 * nearest - np.indices(wood.shape), 0, last)
    rows, columns = np.where(wood[tuple(mirrored)], mirrored, nearest)
    return rows, columns


def _disc(across_px: int) -> NDArray[np.uint8]:
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across_px, across_px)), np.uint8
    )


def line_offsets(face: DrawnFace, begin: Point, end: Point, reach_mm: float) -> tuple[float, ...]:
    """Return where lines are drawn beside a wanted line, mm to its left, nearest first.

    Left is seen from ``begin`` towards ``end`` with y down: (dy, -dx) turned, so that for a line
    along +x it is -y.

    Parameters
    ----------
    begin, end
        Of the wanted line, face mm.
    reach_mm
        How far to either side to look.
    """
    start, stop = np.asarray(begin, float), np.asarray(end, float)
    length = float(np.hypot(*(stop - start)))
    inset = min(_INSET_MM, 0.25 * length)
    if length < 2 * _STEP_MM:
        return ()
    along = (stop - start) / length
    left = np.array([along[1], -along[0]])
    steps = np.arange(inset, length - inset + 1e-6, _STEP_MM)
    aside = np.arange(-reach_mm, reach_mm + 1e-6, _STEP_MM)
    points = start + steps[None, :, None] * along + aside[:, None, None] * left
    at = ((points - np.asarray(face.origin_mm)) / face.mm_per_px).astype(np.float32)
    share = cv2.remap(
        face.drawn, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    ).mean(axis=1)
    return tuple(sorted(_peaks(aside, share), key=abs))


def _peaks(aside: NDArray[np.float64], share: Singles) -> list[float]:
    """Return the middle of every run of offsets at which most of the line is drawn."""
    found = []
    run: list[int] = []
    for index in range(len(share) + 1):
        if index < len(share) and share[index] >= _DRAWN_SHARE:
            run.append(index)
        elif run:
            weight = share[run] - _DRAWN_SHARE + 1e-3
            middle = float((aside[run] * weight).sum() / weight.sum())
            low, high = aside[run[0]] + _HALF_STROKE_MM, aside[run[-1]] - _HALF_STROKE_MM
            if high - low > _ONE_STROKE_MM - 2 * _HALF_STROKE_MM:
                middle = float(np.clip(0.0, low, high))
            found.append(middle)
            run = []
    return found
