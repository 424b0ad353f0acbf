"""Blades of grass that lie over a board's rim: taken out before flaws are looked for.

A blade is neither wood nor a flaw. On other floors nothing is touched: green wood is wood there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.draw import polygon
from skimage.filters import apply_hysteresis_threshold

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.photos.picture import FacePicture

# Greenness is (2 G - R - B) / (R + G + B): lawns lie near 0.2, wood of any species near 0
# (excess green; Woebbecke and others, Transactions of the ASAE 38, 1995).
_LAWN = 0.08
_LAWN_SHARE = 0.5
# Of the way from wood to lawn: surely a leaf, and a leaf where it goes on from such.
_GREEN, _PALE = 0.5, 0.25
# The rim of floor in a flat picture that is certainly floor.
_FLOOR_MM = 30.0
# Specks of dry grass are smaller than this, gaps that blades leave in wood, and wood is broader.
_SPECK_MM, _GAP_MM, _BROAD_MM = 2.0, 16.0, 24.0
# A blade's border and its shadow lie this near to it.
_BESIDE_MM = 2.5
_BORDER_MM = 1.0
_HEAL_MM = 3.0
# Wood is as light as the board's middle within this factor (natural logarithm).
_AS_LIGHT = 0.3


def without_blades(face: FacePicture) -> FacePicture:
    """Return the picture with blades over the wood painted over from beside, where grass lies.

    It also says where grass shows (``grass``).
    """
    found = _blades(face)
    if found is None:
        return face
    grass, blades = found
    radius = max(2.0, _HEAL_MM / face.mm_per_px)
    healed = cv2.inpaint(face.pixels, blades.astype(np.uint8), radius, cv2.INPAINT_TELEA)
    return replace(face, pixels=np.asarray(healed, dtype=np.uint8), grass=grass)


def grass_over(face: FacePicture, shape: Polygon) -> float:
    """Return the share of a shape (face mm) that grass and its shadows cover, 0 to 1."""
    if face.grass is None:
        return 0.0
    corners = (np.asarray(shape.exterior.coords) - face.origin_mm) / face.mm_per_px
    rows, columns = polygon(corners[:, 1], corners[:, 0], face.grass.shape)
    return float(face.grass[rows, columns].mean()) if len(rows) else 0.0


def _blades(face: FacePicture) -> tuple[NDArray[np.bool_], NDArray[np.bool_]] | None:
    """Return where grass shows and where blades lie over the wood; None where is no lawn."""
    light = face.pixels.astype(np.float32)
    total = light.sum(axis=2)
    green = (3 * light[..., 1] - total) / (total + 1.0)
    rim = max(1, round(_FLOOR_MM / face.mm_per_px))
    floor = np.concatenate([green[:rim][face.seen[:rim]], green[-rim:][face.seen[-rim:]]])
    rows = green.shape[0]
    middle = green[2 * rows // 5 : 3 * rows // 5]
    wood = float(np.median(middle[face.seen[2 * rows // 5 : 3 * rows // 5]]))
    if len(floor) == 0 or np.mean(floor > _LAWN) < _LAWN_SHARE or wood > _LAWN / 2:
        return None
    lawn = float(np.median(floor)) - wood
    # A blade's tip and dry end are less green than the rest of it.
    leaf = apply_hysteresis_threshold(green, wood + _PALE * lawn, wood + _GREEN * lawn) & face.seen
    lightness = np.log(total + 1.0)
    own = float(np.median(lightness[2 * rows // 5 : 3 * rows // 5]))
    like_wood = (np.abs(lightness - own) < _AS_LIGHT) & ~leaf & face.seen
    mm = face.mm_per_px
    under = _shaped(like_wood, cv2.MORPH_OPEN, _SPECK_MM / mm)
    under = _shaped(under, cv2.MORPH_CLOSE, _GAP_MM / mm)
    under = _shaped(under, cv2.MORPH_OPEN, _BROAD_MM / mm)
    loose = leaf & under
    beside = _with_shadows(loose, mm)
    blades = _shaped(loose | (beside & ~like_wood), cv2.MORPH_DILATE, 2 * _BORDER_MM / mm)
    return _with_shadows(leaf, mm), blades & under


def _with_shadows(leaf: NDArray[np.bool_], mm_per_px: float) -> NDArray[np.bool_]:
    """Return leaves with their shadows."""
    return _shaped(leaf, cv2.MORPH_DILATE, 2 * _BESIDE_MM / mm_per_px)


def _shaped(mask: NDArray[np.bool_], how: int, across_px: float) -> NDArray[np.bool_]:
    size = 2 * round(across_px / 2) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), how, kernel)) > 0
