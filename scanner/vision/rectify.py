"""Undo lens and tilt: the face seen square on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.photos.picture import FacePicture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo

# The region in which a board is looked for: a little more than 16 ft by half as much.
MOST_GROUND_MM = (6000.0, 3000.0)
# Photos meet midway between their cameras' feet and fade into each other over this.
BLEND_MM = 40.0
# The camera model is exact at every 16th pixel and straight between: the lens bends by less
# than 0.01 px over such a cell.
_CELL_PX = 16
# A strip of rows at a time keeps memory small.
_ROWS_AT_ONCE = 512


@dataclass(frozen=True, slots=True)
class FacePlace:
    """A rectangle in the rule frame: first corner, turn (x towards y), size along and across."""

    origin_mm: tuple[float, float]
    angle_rad: float
    size_mm: tuple[float, float]

    def rule_from_place(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return rule-frame points (N, 2) of points counted from the first corner."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        turn = np.array([[cos, sin], [-sin, cos]])
        return np.asarray(np.asarray(points_mm) @ turn + np.array(self.origin_mm))

    def place_from_rule(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (N, 2) counted from the first corner, of rule-frame points."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        turn = np.array([[cos, -sin], [sin, cos]])
        return np.asarray((np.asarray(points_mm) - np.array(self.origin_mm)) @ turn)


def _photo_map(
    fit: ScaleFit, photo: int, place: FacePlace, mm_per_px: float, shape: tuple[int, int]
) -> NDArray[np.float32]:
    """Return where in the photo every picture pixel lies, (H, W, 2) px."""
    height, width = shape
    rows = np.arange(0, height + _CELL_PX, _CELL_PX, dtype=np.float64)
    columns = np.arange(0, width + _CELL_PX, _CELL_PX, dtype=np.float64)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2) * mm_per_px
    ground = place.rule_from_place(grid)
    there = fit.photo_from_face(photo, ground)
    # Far outside its range the lens polynomial folds the ground back into the picture, where
    # another place is seen: what does not lead back is not shown.
    back = fit.face_from_photo(photo, np.nan_to_num(there))
    leads_back = np.abs(back - ground).max(axis=1) < mm_per_px
    there = np.where(leads_back[:, None], there, np.nan)
    coarse = there.reshape(len(rows), len(columns), 2).astype(np.float32)
    coarse = np.where(np.isfinite(coarse), coarse, np.float32(-1e6))
    # Cell corners lie at whole multiples of the cell: sample between them, not between centres.
    x = np.arange(width, dtype=np.float32) / _CELL_PX
    y = np.arange(height, dtype=np.float32) / _CELL_PX
    across, down = np.meshgrid(x, y)
    return np.asarray(cv2.remap(coarse, across, down, cv2.INTER_LINEAR), dtype=np.float32)


def _inside(there: NDArray[np.float32], size_px: tuple[int, int]) -> NDArray[np.bool_]:
    """Return which picture pixels a photo of a size (width, height) shows."""
    low = (there >= 0).all(axis=2)
    return np.asarray(low & (there[..., 0] <= size_px[0] - 1) & (there[..., 1] <= size_px[1] - 1))


def _shrink(
    fit: ScaleFit, photo: int, place: FacePlace, mm_per_px: float, there: NDArray[np.float32]
) -> float:
    """Return photo pixels per picture pixel at the middle of what the photo shows."""
    seen = np.argwhere(_inside(there[::_CELL_PX, ::_CELL_PX], fit.sizes_px[photo]))
    if len(seen) == 0:
        return 1.0
    middle = seen.mean(axis=0)[::-1] * _CELL_PX * mm_per_px
    return mm_per_px / fit.mm_per_px(photo, place.rule_from_place(middle[None])[0])


def _resampled(
    pixels: NDArray[np.uint8], there: NDArray[np.float32], shrink: float
) -> NDArray[np.uint8]:
    """Return the photo at given places: bicubic, or over an area where it shrinks."""
    factor = int(shrink + 0.25)
    if factor >= 2:
        small = cv2.resize(
            pixels,
            (pixels.shape[1] // factor, pixels.shape[0] // factor),
            interpolation=cv2.INTER_AREA,
        )
        scale = np.array(
            [small.shape[1] / pixels.shape[1], small.shape[0] / pixels.shape[0]], dtype=np.float32
        )
        there = (there + 0.5) * scale - 0.5
        pixels = np.asarray(small, dtype=np.uint8)
    out = cv2.remap(
        pixels,
        np.ascontiguousarray(there[..., 0]),
        np.ascontiguousarray(there[..., 1]),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(out, dtype=np.uint8)


def flatten(
    photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace, mm_per_px: float
) -> FacePicture:
    """Return the face inside a place, square on; rows run along y down.

    Every photo is resampled once, from full size. Where several show a pixel the one whose
    camera stands nearest above it wins, blended over 40 mm.

    Parameters
    ----------
    place
        In the rule frame; its first corner is the centre of the first pixel.
    mm_per_px
        Of the picture, both ways.

    Returns
    -------
    FacePicture
        ``origin_mm`` is (0, 0): the picture's own frame starts at the place's first corner.
    """
    width = max(1, round(place.size_mm[0] / mm_per_px) + 1)
    height = max(1, round(place.size_mm[1] / mm_per_px) + 1)
    pixels = np.zeros((height, width, 3), dtype=np.uint8)
    seen = np.zeros((height, width), dtype=np.bool_)
    feet = [place.place_from_rule(fit.foot_mm(i)[None])[0] for i in range(len(photos))]
    maps = [_photo_map(fit, i, place, mm_per_px, (height, width)) for i in range(len(photos))]
    shrinks = [_shrink(fit, i, place, mm_per_px, there) for i, there in enumerate(maps)]
    for top in range(0, height, _ROWS_AT_ONCE):
        rows = slice(top, min(height, top + _ROWS_AT_ONCE))
        total = np.zeros((rows.stop - top, width, 3), dtype=np.float32)
        weights = np.zeros((rows.stop - top, width), dtype=np.float32)
        shares = _shares(feet, rows, width, mm_per_px)
        for index, photo in enumerate(photos):
            there = maps[index][rows]
            inside = _inside(there, fit.sizes_px[index])
            if not inside.any():
                continue
            # A photo that alone shows a pixel fills it, however far away its camera stood.
            share = np.where(inside, np.maximum(shares[index], 1e-4), 0).astype(np.float32)
            total += _resampled(photo.pixels, there, shrinks[index]) * share[..., None]
            weights += share
        shown = weights > 0
        total /= np.where(shown, weights, 1)[..., None]
        pixels[rows] = np.clip(np.rint(total), 0, 255).astype(np.uint8)
        seen[rows] = shown
    return FacePicture(
        pixels=pixels,
        mm_per_px=mm_per_px,
        origin_mm=(0.0, 0.0),
        u_scale=fit.u_scale,
        u_point_mm=fit.u_point_mm,
        seen=seen,
    )


def view_of(
    photo: Photo, fit: ScaleFit, index: int, place: FacePlace, mm_per_px: float
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return one photo's own flat picture of a place (H, W, 3), and which pixels it shows."""
    width = max(1, round(place.size_mm[0] / mm_per_px) + 1)
    height = max(1, round(place.size_mm[1] / mm_per_px) + 1)
    there = _photo_map(fit, index, place, mm_per_px, (height, width))
    inside = _inside(there, fit.sizes_px[index])
    shrink = _shrink(fit, index, place, mm_per_px, there)
    return _resampled(photo.pixels, there, shrink), inside


def _shares(
    feet: list[NDArray[np.float64]], rows: slice, width: int, mm_per_px: float
) -> list[NDArray[np.float32]]:
    """Return the weight of each photo at each pixel; 1 on its own side of the seam."""
    if len(feet) == 1:
        return [np.ones((rows.stop - rows.start, width), dtype=np.float32)]
    y, x = np.mgrid[rows, 0:width] * mm_per_px
    far = np.stack([np.hypot(x - foot[0], y - foot[1]) for foot in feet]).astype(np.float32)
    out = []
    for index in range(len(feet)):
        nearest_other = np.min(np.delete(far, index, axis=0), axis=0)
        # Half the difference of the two distances is the distance from the seam.
        inward = (nearest_other - far[index]) / 2
        out.append(np.clip(0.5 + inward / BLEND_MM, 0, 1).astype(np.float32))
    return out


def ground_place(fit: ScaleFit, photos: tuple[Photo, ...]) -> FacePlace:
    """Return the region round the rule that the photos show, capped at 6 m by 3 m."""
    corners = []
    face = fit.observations.face
    middle = np.array([face.middle_mm[0], -face.middle_mm[1]])
    reach = np.array(MOST_GROUND_MM) / 2
    for index, photo in enumerate(photos):
        height, width = photo.pixels.shape[:2]
        share = np.linspace(0, 1, 9)
        border = np.concatenate(
            [
                np.column_stack([share * (width - 1), np.zeros(9)]),
                np.column_stack([share * (width - 1), np.full(9, height - 1.0)]),
                np.column_stack([np.zeros(9), share * (height - 1)]),
                np.column_stack([np.full(9, width - 1.0), share * (height - 1)]),
            ]
        )
        there = fit.face_from_photo(index, border)
        # Above the horizon there is no floor; the cap then decides.
        far = np.where(
            np.isfinite(there), there, middle + np.sign(border - [[width / 2, height / 2]]) * 1e5
        )
        corners.append(np.clip(far, middle - reach, middle + reach))
    points = np.concatenate(corners)
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.maximum(high - low, 100.0)
    return FacePlace((float(low[0]), float(low[1])), 0.0, (float(size[0]), float(size[1])))
