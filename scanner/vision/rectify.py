"""Undo lens and tilt: the face seen square on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.errors import PhotoError
from scanner.vision.picture import FacePicture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.picture import Photo
    from scanner.vision.scale import ScaleFit

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

# Camera and lens bend the map by under 0.01 px over so many pixels of a flat picture.
_COARSE_PX = 16
# geometry.md section 10: the seam lies midway between the camera's feet, blended over 40 mm.
_BLEND_MM = 40.0
# The region looked at for the board: along and across the rule, from its middle.
_GROUND_HALF_MM = (3000.0, 1500.0)
# Beyond this size a flat picture means a wrong fit, not a board: 6 m x 1.2 m at 0.5 mm per pixel.
_MOST_PIXELS = 40_000_000


@dataclass(frozen=True, slots=True)
class FacePlace:
    """A rectangle in the rule frame: first corner, turn (x towards y), size along and across."""

    origin_mm: tuple[float, float]
    angle_rad: float
    size_mm: tuple[float, float]

    def rule_frame_points(self, points_mm: Floats) -> Floats:
        """Return points (N, 2) of the place's own frame (mm from its corner) in the rule frame."""
        c, s = math.cos(self.angle_rad), math.sin(self.angle_rad)
        moved: Floats = points_mm @ np.array([[c, s], [-s, c]]) + np.array(self.origin_mm)
        return moved

    def place_points(self, points_mm: Floats) -> Floats:
        """Return points (N, 2) of the rule frame in the place's own frame."""
        c, s = math.cos(self.angle_rad), math.sin(self.angle_rad)
        moved: Floats = (points_mm - np.array(self.origin_mm)) @ np.array([[c, -s], [s, c]])
        return moved


def flatten(
    photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace, mm_per_px: float
) -> FacePicture:
    """Return the face inside a place, square on; rows run along y down.

    Parameters
    ----------
    photos
        Full-size photos, in the fit's order.
    fit
        The cameras.
    place
        What to show.
    mm_per_px
        Of the picture.

    Returns
    -------
    FacePicture
        Its frame is the place's own: the first pixel's centre is (0, 0).

    Raises
    ------
    PhotoError
        The place is larger than any board.
    """
    width = max(1, math.ceil(place.size_mm[0] / mm_per_px))
    height = max(1, math.ceil(place.size_mm[1] / mm_per_px))
    if width * height > _MOST_PIXELS:
        raise PhotoError(
            f"What {photos[0].name} shows would be {place.size_mm[0] / 1000:.1f} m"
            f" x {place.size_mm[1] / 1000:.1f} m",
            "give the rule's or the strip's true size",
        )
    columns = np.arange(0, width + _COARSE_PX, _COARSE_PX, dtype=np.float64)
    rows = np.arange(0, height + _COARSE_PX, _COARSE_PX, dtype=np.float64)
    grid: Floats = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2) * float(mm_per_px)
    points = place.rule_frame_points(grid)
    coarse = (len(rows), len(columns))
    weights = _weights(fit, points, len(photos))
    total = np.zeros((height, width, 3), dtype=np.float32)
    share = np.zeros((height, width), dtype=np.float32)
    middle = place.rule_frame_points(np.array([[place.size_mm[0] / 2, place.size_mm[1] / 2]]))[0]
    for index, photo in enumerate(photos):
        if not weights[index].any():
            continue
        weight = _grown(weights[index].reshape(coarse), (height, width))
        map_px = fit.photo_from_face(index, points).reshape(*coarse, 2)
        finer = max(1, math.ceil(mm_per_px / fit.mm_per_px(index, middle) - 0.25))
        drawn = _drawn(photo.pixels, np.nan_to_num(map_px, nan=-9.0), (height, width), finer)
        if len(photos) == 1:
            total, share = drawn.astype(np.float32), weight
            break
        total += drawn * weight[..., None]
        share += weight
    seen = share > 0.5
    if len(photos) > 1:
        total /= np.maximum(share, 1e-6)[..., None]
    pixels = np.clip(total + 0.5, 0, 255).astype(np.uint8) if len(photos) > 1 else drawn
    return FacePicture(
        pixels=np.ascontiguousarray(pixels),
        mm_per_px=mm_per_px,
        origin_mm=(0.0, 0.0),
        u_scale=fit.u_scale,
        u_point_mm=fit.u_point_mm,
        seen=seen,
    )


def _weights(fit: ScaleFit, points: Floats, photos: int) -> Floats:
    """Return how much each photo has to say at each point, shape (photos, N); 0 where unseen."""
    sees = np.array([fit.sees(index, points) for index in range(photos)])
    if photos == 1:
        return sees.astype(np.float64)
    far = np.array([np.linalg.norm(points - fit.foot_mm(i), axis=1) for i in range(photos)])
    far[~sees] = np.inf
    nearest = far.min(axis=0)
    lead = np.where(np.isfinite(far), far - np.where(np.isfinite(nearest), nearest, 0.0), np.inf)
    weights: Floats = np.clip(1.0 - lead / _BLEND_MM, 0.0, 1.0)
    weights /= np.maximum(weights.sum(axis=0), 1e-9)
    return weights


def _grown(coarse: Floats, shape: tuple[int, int]) -> Singles:
    """Return a map given every few pixels, at every pixel of (height, width)."""
    height, width = shape
    x = np.arange(width, dtype=np.float32) / _COARSE_PX
    y = np.arange(height, dtype=np.float32) / _COARSE_PX
    at_x, at_y = np.meshgrid(x, y)
    grown = cv2.remap(coarse.astype(np.float32), at_x, at_y, cv2.INTER_LINEAR)
    return np.asarray(grown, dtype=np.float32)


def _drawn(
    photo: NDArray[np.uint8], map_px: Floats, shape: tuple[int, int], finer: int
) -> NDArray[np.uint8]:
    """Return the photo resampled once; ``finer`` > 1 averages where the photo is the finer one."""
    height, width = shape
    out = np.empty((height, width, 3), dtype=np.uint8)
    # OpenCV's own linear map lookup has 1/32 px steps, so the map is grown in exact strips; strips
    # also keep memory low.
    strip = max(1, 2_000_000 // (width * finer * finer))
    step = 1.0 / (_COARSE_PX * finer)
    x = (np.arange(width * finer, dtype=np.float64) + 0.5) * step - 0.5 / _COARSE_PX
    for top in range(0, height, strip):
        rows = min(strip, height - top)
        y = (
            (np.arange(rows * finer, dtype=np.float64) + 0.5) * step
            - 0.5 / _COARSE_PX
            + top / _COARSE_PX
        )
        fine = _bilinear(map_px, x, y)
        piece = cv2.remap(photo, fine[..., 0], fine[..., 1], cv2.INTER_CUBIC)
        if finer > 1:
            piece = cv2.resize(piece, (width, rows), interpolation=cv2.INTER_AREA)
        out[top : top + rows] = np.asarray(piece)
    return out


def _bilinear(coarse: Floats, x: Floats, y: Floats) -> Singles:
    """Return a coarse map (R, C, 2) at columns x and rows y (prolonged a little at its rim)."""
    column = np.clip(np.floor(x).astype(int), 0, coarse.shape[1] - 2)
    row = np.clip(np.floor(y).astype(int), 0, coarse.shape[0] - 2)
    u = (x - column)[None, :, None]
    v = (y - row)[:, None, None]
    along = coarse[:, column] * (1 - u) + coarse[:, column + 1] * u
    grown: Singles = (along[row] * (1 - v) + along[row + 1] * v).astype(np.float32)
    return grown


def ground_place(fit: ScaleFit, photos: tuple[Photo, ...]) -> FacePlace:
    """Return the region round the rule that the photos show, capped."""
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    middle = np.array(fit.rule_area_mm().centroid.coords[0])
    half = np.array(_GROUND_HALF_MM)
    for index, photo in enumerate(photos):
        height, width = photo.pixels.shape[:2]
        steps = np.linspace(0, 1, 12)
        u, v = np.meshgrid(steps * (width - 1), steps * (height - 1))
        shown = fit.face_from_photo(index, np.column_stack([u.ravel(), v.ravel()]))
        shown = shown[np.isfinite(shown).all(axis=1)]
        shown = np.clip(shown, middle - half, middle + half)
        low, high = np.minimum(low, shown.min(axis=0)), np.maximum(high, shown.max(axis=0))
    return FacePlace(
        origin_mm=(float(low[0]), float(low[1])),
        angle_rad=0.0,
        size_mm=(float(high[0] - low[0]), float(high[1] - low[1])),
    )
