"""What this picture's own floor looks like, where the learned map takes it for the face.

The map has learned floors; one that it never met may pass for wood all along a board. But the floor
goes on all round, and a board's wood does not: what looks like the ground at large and not like the
wood between the located edges is no face, whatever the map says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.geometry.polygons import polygon_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.outline.face_map import FaceMap, Singles
    from scanner.vision.photos.picture import FacePicture

# CIELAB in steps that look alike to the eye, as cells have them.
_LOOK_STEP = np.array([6.0, 2.5, 3.5], dtype=np.float32)
_LOW = np.array([0.0, -60.0, -60.0], dtype=np.float32)
_BINS = (18, 49, 36)
# Wood is learned this far within the located edges, which may lie askew by as much.
_INSIDE_MM = 30.0
# Floor is learned from what lies further off than a board's sapwood or a missed end may reach.
_CLEAR_MM = 150.0
# So few pixels of 2 mm teach nothing.
_FEWEST = 4000
# A look that neither has in more than this share of its pixels tells nothing.
_SELDOM = 0.002
# Log odds from which a look is the floor's.
_FLOOR = -1.0
# Single specks and pores of wood may look like floor; floor looks so all over such a square.
_PATCH_MM = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class OwnFloor:
    """Log odds of each look being the wood's against the floor's, by bins of CIELAB."""

    odds: Singles

    @staticmethod
    def of(ground: FacePicture, board: Polygon, rule_area: Polygon) -> OwnFloor | None:
        """Return what the ground teaches, or None where too little of it is seen.

        Parameters
        ----------
        ground
            Flat picture of the ground, its frame that of both areas, mm.
        board
            Where the board was located.
        rule_area
            Where the rule lies.
        """
        inner = board.buffer(-_INSIDE_MM, join_style="mitre")
        wood = _painted(ground, [inner]) & ground.seen
        floor = ~_painted(ground, [board.buffer(_CLEAR_MM), rule_area.buffer(_INSIDE_MM)])
        floor &= ground.seen
        if min(wood.sum(), floor.sum()) < _FEWEST:
            return None
        bins = _bins(ground.pixels)
        shares = [_shares(bins[here]) for here in (wood, floor)]
        return OwnFloor(np.log((shares[0] + _SELDOM) / (shares[1] + _SELDOM)))

    def told(self, face: FacePicture, size: tuple[int, int]) -> Singles:
        """Return the odds (H, W) at a flat picture's own looks, shrunk to size (width, height)."""
        pixels = cv2.resize(face.pixels, size, interpolation=cv2.INTER_AREA)
        return np.asarray(self.odds.reshape(-1)[_bins(np.asarray(pixels, np.uint8))])

    def share_within(self, face: FacePicture, outline: Polygon) -> float:
        """Return which share of an outline (face mm) looks like floor and not like the wood."""
        mm = 2.0
        rows, columns = face.seen.shape
        size = (
            max(1, round(columns * face.mm_per_px / mm)),
            max(1, round(rows * face.mm_per_px / mm)),
        )
        odds = self.told(face, size)
        patch = (round(_PATCH_MM / mm), round(_PATCH_MM / mm))
        seen = cv2.resize(face.seen.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
        flat = replace(face, seen=seen, mm_per_px=mm)
        inside = _painted(flat, [outline]) & seen
        floor = np.asarray(cv2.blur(odds, patch)) < _FLOOR
        return float((floor & inside).sum() / max(1, inside.sum()))

    def against(self, told: FaceMap, face: FacePicture) -> FaceMap:
        """Return a map in which what looks like the floor is neither face nor board."""
        rows, columns = told.face.shape
        odds = self.told(face, (columns, rows))
        floor = odds < _FLOOR
        return replace(
            told,
            face=np.where(floor, np.minimum(told.face, 0) + odds, told.face),
            body=np.where(floor, np.minimum(told.body, 0) + odds, told.body),
        )


def _bins(pixels: NDArray[np.uint8]) -> NDArray[np.intp]:
    """Return the bin (H, W) of each pixel's look."""
    lab = cv2.cvtColor(pixels.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    at = np.clip(((lab - _LOW) / _LOOK_STEP).astype(np.intp), 0, np.array(_BINS) - 1)
    return np.asarray((at[..., 0] * _BINS[1] + at[..., 1]) * _BINS[2] + at[..., 2])


def _shares(bins: NDArray[np.intp]) -> Singles:
    """Return the share of each look, neighbouring looks counted in part."""
    count = np.bincount(bins, minlength=int(np.prod(_BINS))).reshape(_BINS).astype(np.float32)
    for axis in range(3):
        before, after = (np.roll(count, way, axis) for way in (1, -1))
        count = 0.25 * before + 0.5 * count + 0.25 * after
    return np.asarray(count / max(1.0, float(count.sum())), dtype=np.float32)


def _painted(picture: FacePicture, shapes: list[Polygon]) -> NDArray[np.bool_]:
    canvas: NDArray[np.uint8] = np.zeros(picture.seen.shape, dtype=np.uint8)
    for shape in shapes:
        if shape.is_empty:
            continue
        ring = np.asarray(polygon_of(np.asarray(shape.exterior.coords)).exterior.coords)
        at = (ring - np.asarray(picture.origin_mm)) / picture.mm_per_px
        cv2.fillPoly(canvas, [np.round(at).astype(np.int32)], 1)
    return canvas > 0
