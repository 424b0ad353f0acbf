"""How large a small spot is drawn: it ends where the picture is a good part as dark as its core."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.flaws.learned_regions import size_text
from scanner.vision.flaws.surface import WORK_MM_PER_PX, paint

if TYPE_CHECKING:
    from scanner.board.flaw import Flaw
    from scanner.vision.flaws.surface import Bools, Singles, Surface

# Larger spots the network draws well itself.
_LARGEST_MM = 6.0
# The rim lies where so much of the way in L* from the wood to the darkest place is gone. Half would
# be right for a picture blurred in L* itself; cameras blur light, which takes less, and sharpen.
# From 0.35 to 0.5 tried on 15 holes of the first renderer and 17 of the third: at this small and
# the larger of both gain; at 0.45 the third's a little more and the first's larger ones nothing.
_OF_DEPTH = 0.4
# Wood round a spot, from the network's rim, and how far beyond it a spot may reach.
_AROUND_PX, _BEYOND_PX = (3.0, 8.0), 1
_LEAST_AROUND_PX = 10
_FINER = 4
# What is drawn so lies where the network saw something, or is something else.
_SAME_IOU = 0.15


def redrawn(flaw: Flaw, surface: Surface) -> Flaw:
    """Return a small spot with its outline drawn by the picture, and told as large as that.

    The network blurs what is a few pixels across: on wood of another making than it was taught on
    it drew holes of 1 to 3.5 mm a millimetre too wide. A larger spot, or one that has no clear wood
    round it or no dark core, comes back as it is.

    Parameters
    ----------
    flaw
        A hole or knot, face mm, key 1.
    surface
        The face.
    """
    seen = flaw.outlines[1]
    if 2.0 * np.sqrt(seen.area / np.pi) >= _LARGEST_MM:
        return flaw
    drawn = by_depth(seen, surface)
    if drawn.is_empty or iou(drawn, seen) < _SAME_IOU:
        return flaw
    reason = flaw.reason and f"{flaw.reason.rpartition(', ')[0]}, {size_text(drawn)}"
    return replace(flaw, outlines={1: drawn}, reason=reason)


def by_depth(seen: Polygon, surface: Surface) -> Polygon:
    """Return where a spot is two fifths as dark as its core or more, face mm; empty if nowhere."""
    origin_mm, lightness, spot, wood = _window(seen, surface)
    if not spot.any():
        return Polygon()
    away = np.asarray(cv2.distanceTransform(1 - spot.astype(np.uint8), cv2.DIST_L2, 5))
    around = (away > _AROUND_PX[0]) & (away <= _AROUND_PX[1]) & wood
    if np.count_nonzero(around) < _LEAST_AROUND_PX:
        return Polygon()
    clear, core = float(np.median(lightness[around])), float(lightness[spot].min())
    limit = clear + _OF_DEPTH * (core - clear)
    # Between pixels, as a hole of 1.5 mm is three of them wide.
    size = (lightness.shape[1] * _FINER, lightness.shape[0] * _FINER)
    fine = np.asarray(cv2.resize(lightness, size, interpolation=cv2.INTER_CUBIC))
    near = cv2.resize((away <= _BEYOND_PX).astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    there = near > 0
    labels = cv2.connectedComponents(((fine < limit) & there).astype(np.uint8))[1]
    darkest = labels.ravel()[int(np.argmin(np.where(there, fine, np.inf)))]
    if darkest == 0:
        return Polygon()
    rings, _ = cv2.findContours(
        np.pad((labels == darkest).astype(np.uint8), 1),
        cv2.RETR_EXTERNAL,
        cv2.CHAIN_APPROX_NONE,
    )
    ring = max(rings, key=cv2.contourArea).reshape(-1, 2).astype(np.float64) - 1.0
    if len(ring) < 3:
        return Polygon()
    ring = (ring + 0.5) / _FINER - 0.5
    shape = polygon_of(face_from_picture(ring, origin_mm, WORK_MM_PER_PX))
    # Contours run through the middles of the finer pixels: half of one lies outside them.
    return polygon_of(
        np.asarray(shape.buffer(0.5 * WORK_MM_PER_PX / _FINER).simplify(0.05).exterior.coords)
    )


def _window(seen: Polygon, surface: Surface) -> tuple[tuple[float, float], Singles, Bools, Bools]:
    """Return a spot's surroundings: their origin (mm), L*, the spot's pixels, and the wood's."""
    low_x, low_y, high_x, high_y = seen.bounds
    box = np.array([[low_x, low_y], [high_x, high_y]])
    (left, top), (right, bottom) = (box - np.asarray(surface.origin_mm)) / WORK_MM_PER_PX
    margin = _AROUND_PX[1] + 2
    rows, columns = surface.wood.shape
    x0, x1 = max(0, int(left - margin)), min(columns, int(right + margin) + 1)
    y0, y1 = max(0, int(top - margin)), min(rows, int(bottom + margin) + 1)
    x_mm, y_mm = surface.origin_mm
    origin_mm = (x_mm + x0 * WORK_MM_PER_PX, y_mm + y0 * WORK_MM_PER_PX)
    lightness = np.ascontiguousarray(surface.lab[y0:y1, x0:x1, 0])
    spot = paint(seen, origin_mm, lightness.shape)
    return origin_mm, lightness, spot, surface.wood[y0:y1, x0:x1]
