"""Photos of a marked board with what is drawn wiped out: lines hide the board from its finder."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.chalk_colour import line_pixels
from scanner.vision.rectify import flatten, ground_place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo
    from scanner.vision.rectify import FacePlace

# Strokes are 4 mm wide and more.
_GROUND_MM_PER_PX = 2.0
# Rule, batten and their shadow stay as they are.
_RULE_RIM_MM = 20.0
# The camera is followed at every so many pixels and straight between.
_CELL_PX = 16


def wiped_photos(photos: tuple[Photo, ...], fit: ScaleFit) -> tuple[Photo, ...]:
    """Return photos with the ground's colour where a line is drawn on board or floor."""
    region = ground_place(fit, photos)
    ground = flatten(photos, fit, region, _GROUND_MM_PER_PX)
    lab = cv2.cvtColor(ground.pixels.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    drawn, beneath = line_pixels(np.asarray(lab, np.float32), _GROUND_MM_PER_PX)
    rule = np.zeros(drawn.shape, np.uint8)
    area = fit.rule_area_mm().buffer(_RULE_RIM_MM)
    for part in getattr(area, "geoms", (area,)):
        ring = region.place_from_rule(np.array(part.exterior.coords)) / _GROUND_MM_PER_PX
        cv2.fillPoly(rule, [np.round(ring).astype(np.int32)], 1)
    drawn &= ground.seen & (rule == 0)
    if not drawn.any():
        return photos
    bare = np.clip(cv2.cvtColor(beneath, cv2.COLOR_LAB2RGB) * 255.0, 0, 255).astype(np.uint8)
    out = []
    for index, photo in enumerate(photos):
        there = _ground_px(photo, fit, index, region)
        cover = cv2.remap(drawn.astype(np.float32), there, None, cv2.INTER_LINEAR)  # type: ignore[call-overload]
        wood = cv2.remap(bare, there, None, cv2.INTER_LINEAR)  # type: ignore[call-overload]
        pixels = np.where((cover > 0.3)[..., None], wood, photo.pixels)
        out.append(replace(photo, pixels=pixels.astype(np.uint8)))
    return tuple(out)


def _ground_px(photo: Photo, fit: ScaleFit, index: int, ground: FacePlace) -> NDArray[np.float32]:
    """Return (H, W, 2) where the ground's picture shows a photo's pixels; far off where not."""
    height, width = photo.pixels.shape[:2]
    columns = np.arange(0, width + _CELL_PX, _CELL_PX, dtype=np.float64)
    rows = np.arange(0, height + _CELL_PX, _CELL_PX, dtype=np.float64)
    x, y = np.meshgrid(columns, rows)
    seen = np.column_stack([x.ravel(), y.ravel()])
    there = ground.place_from_rule(fit.face_from_photo(index, seen)) / _GROUND_MM_PER_PX
    there = np.where(np.isfinite(there), np.clip(there, -1e5, 1e5), -1e5)
    coarse = there.reshape(len(rows), len(columns), 2).astype(np.float32)
    steps_x = (np.arange(width, dtype=np.float32) / _CELL_PX)[None, :].repeat(height, axis=0)
    steps_y = (np.arange(height, dtype=np.float32) / _CELL_PX)[:, None].repeat(width, axis=1)
    return np.asarray(cv2.remap(coarse, steps_x, steps_y, cv2.INTER_LINEAR), np.float32)
