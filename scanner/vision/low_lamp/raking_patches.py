"""Patches of a face's grain found again in a second picture of it, and how alike they are there."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Long patches, since grain changes slowly along the board; so many along it and across.
_PATCH_MM = (80.0, 40.0)
_ALONG, _ACROSS = 22, 5
# Patches that are less alike (correlation), or of fewer pixels, tell nothing.
_LEAST_LIKENESS, _LEAST_HALF_PX = 0.35, 8
# Grain repeats across the board: another peak, this far off, must be less good.
_OTHER_PEAK_MM = 2.0
_CLEARER_BY = 0.04
# A patch whose likeness falls by b a pixel squared is told within sqrt((1 - r^2) / (b n)) px: as
# if it held n independent pixels (Cramer-Rao bound of a shift).
INDEPENDENT = 250.0
LEAST_SD_MM = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """(N, 2) middles of patches, mm; (N, H, W) how alike they are moved; the middle is no move."""

    at: Doubles
    values: Singles
    mm_per_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """(N, 2) middles of patches found in both, how far off; (N, 2, 2) covariance, picture mm."""

    at: Doubles
    off: Doubles
    covariance: Doubles


def likeness_of(
    texture: Singles,
    other: Singles,
    face: FacePicture,
    outline: Polygon,
    reach_mm: tuple[float, float],
) -> Likeness:
    """Return how alike patches of the face are to the other picture about where they should lie.

    Parameters
    ----------
    texture, other
        (H, W) of both pictures, pixel by pixel over each other but for what is sought.
    face, outline
        The first picture, and the face to the arris in its mm.
    reach_mm
        How far patches are moved, along and across.
    """
    mm = face.mm_per_px
    half = [round(size / 2 / mm) for size in _PATCH_MM]
    reach = [round(size / mm) for size in reach_mm]
    x0, y0, x1, y1 = (
        value / mm for value in np.subtract(outline.bounds, [*face.origin_mm, *face.origin_mm])
    )
    half[1] = min(half[1], int((y1 - y0) / 2 - 2))
    at: list[tuple[float, float]] = []
    values: list[Singles] = []
    shape = 2 * half[1], 2 * half[0]
    around = np.pad(other, ((reach[1], reach[1]), (reach[0], reach[0])))
    if half[1] >= _LEAST_HALF_PX:
        for x in np.linspace(x0 + half[0], x1 - half[0], _ALONG):
            for y in np.unique(np.round(np.linspace(y0 + half[1], y1 - half[1], _ACROSS))):
                left, top = round(float(x)) - half[0], round(float(y)) - half[1]
                if left < 0 or top < 0:
                    continue
                patch = texture[top : top + shape[0], left : left + shape[1]]
                there = around[
                    top : top + shape[0] + 2 * reach[1], left : left + shape[1] + 2 * reach[0]
                ]
                if patch.shape != shape:
                    continue
                alike = cv2.matchTemplate(there, patch, cv2.TM_CCOEFF_NORMED)
                at.append(((left + half[0]) * mm, (top + half[1]) * mm))
                values.append(np.nan_to_num(alike, nan=-1.0, posinf=-1.0, neginf=-1.0))
    size = (2 * reach[1] + 1, 2 * reach[0] + 1)
    stack = np.array(values, dtype=np.float32).reshape(-1, *size)
    return Likeness(np.array(at).reshape(-1, 2), stack, mm)


def matches_of(likeness: Likeness) -> Matches:
    """Return the patches that are plainly found in both pictures."""
    mm = likeness.mm_per_px
    at: list[Doubles] = []
    off: list[Doubles] = []
    covariance: list[Doubles] = []
    middle = np.array(likeness.values.shape[:0:-1]) // 2
    for place, values in zip(likeness.at, likeness.values, strict=True):
        found = _peak(values, mm)
        if found is not None:
            at.append(place)
            off.append((found[0] - middle) * mm)
            covariance.append(found[1] * mm**2 + np.eye(2) * LEAST_SD_MM**2)
    return Matches(
        np.array(at).reshape(-1, 2), np.array(off).reshape(-1, 2),
        np.array(covariance).reshape(-1, 2, 2),
    )  # fmt: skip


def _peak(values: Singles, mm: float) -> tuple[Doubles, Doubles] | None:
    """Return the peak (x, y), px with parts, and its spread; None where faint or not alone."""
    row, column = (int(v) for v in np.unravel_index(int(values.argmax()), values.shape))
    best = float(values[row, column])
    if best < _LEAST_LIKENESS:
        return None
    apart = round(_OTHER_PEAK_MM / mm)
    rest = values.copy()
    rest[
        max(row - apart, 0) : row + apart + 1, max(column - 3 * apart, 0) : column + 3 * apart
    ] = -1
    if rest.max() > best - _CLEARER_BY:
        return None
    if not (0 < row < values.shape[0] - 1 and 0 < column < values.shape[1] - 1):
        return None
    around = values[row - 1 : row + 2, column - 1 : column + 2].astype(np.float64)
    # Grain that runs askew ties what is told along the board to what is told across it.
    bends = np.array(
        [
            [around[1, 0] - 2 * best + around[1, 2], 0.0],
            [0.0, around[0, 1] - 2 * best + around[2, 1]],
        ]
    )
    bends[0, 1] = bends[1, 0] = (around[2, 2] - around[2, 0] - around[0, 2] + around[0, 0]) / 4
    turned = np.linalg.eigh(bends)
    # Along a ridge as good as level the peak is anywhere.
    bends = (
        turned.eigenvectors
        @ np.diag(np.minimum(turned.eigenvalues, -1e-5))
        @ (turned.eigenvectors.T)
    )
    climb = np.array([around[1, 2] - around[1, 0], around[2, 1] - around[0, 1]]) / 2
    part = np.clip(-np.linalg.solve(bends, climb), -1.0, 1.0)
    spread = -np.linalg.inv(bends) * (1.0 - best * best) / INDEPENDENT
    return np.array([column, row]) + part, spread
