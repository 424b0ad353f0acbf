"""How strongly dark lines run each way at places of an end's flat picture."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Rings show as thin dark lines; a saw's streaks on an end are broader and shorter.
_LINE_MM = 0.4
_LINE_LONG_MM = 2.5
_WAYS = 24
_BROAD_MM = 5.0
_GATHER_MM = 2.5
_GRID_MM = 2.0
_RIM_MM = 1.5
_LEAST_COHERENCE = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class LineProfiles:
    """What lines show at places of an end.

    Attributes
    ----------
    points_mm
        (N, 2) places, mm of the picture (x right, y down).
    ways_rad
        (W,) directions in which lines may run, 0 to pi.
    energy
        (N, W) how strongly they do.
    """

    points_mm: Floats
    ways_rad: Floats
    energy: Floats

    @property
    def total(self) -> Floats:
        """(N,) how strongly lines show at all."""
        return np.asarray(np.sqrt((self.energy**2).sum(axis=1)))

    def plain_directions(self) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return normals (N, 2) to the lines taken as one set, their weights, and where any show.

        References
        ----------
        J. Bigun and G. H. Granlund 1987 (structure tensor).
        """
        squared = self.energy**2
        # Squared: one clear set of lines counts, not the sum of all that is a little lined.
        doubled = squared @ np.exp(2j * self.ways_rad)
        coherence = np.abs(doubled) / np.maximum(squared.sum(axis=1), 1e-12)
        total = self.total
        typical = float(np.median(total)) if len(total) else 1.0
        clear = (coherence > _LEAST_COHERENCE) & (total > 0.1 * typical)
        angle = 0.5 * np.angle(doubled) + np.pi / 2
        weights = coherence**2 * np.clip(total / max(typical, 1e-12), 0.2, 1.5)
        return np.column_stack([np.cos(angle), np.sin(angle)]), np.asarray(weights), clear


def line_profiles(
    pixels: NDArray[np.uint8], wood: NDArray[np.bool_], mm_per_px: float
) -> LineProfiles:
    """Return the lines of an end (H, W, 3) uint8 RGB, square on; ``wood`` (H, W) is its wood."""
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    weight = wood.astype(np.float32)
    light = np.where(wood, np.log(np.maximum(grey, 3.0)), 0).astype(np.float32)

    def mean(values: NDArray[np.float32], sigma_mm: float) -> NDArray[np.float32]:
        sigma = sigma_mm / mm_per_px
        top = cv2.GaussianBlur(values * weight, (0, 0), sigma)
        bottom = cv2.GaussianBlur(weight, (0, 0), sigma)
        return np.asarray(top / np.maximum(bottom, 1e-4), dtype=np.float32)

    flat = np.where(wood, light - mean(light, _BROAD_MM), 0).astype(np.float32)
    spread = float(flat[wood].std()) if wood.any() else 1.0
    flat = np.clip(flat, -2.5 * spread, 2.5 * spread)
    rim = max(1, round(_RIM_MM / mm_per_px))
    padded = cv2.copyMakeBorder(wood.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    deep = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    inner = (deep > rim).astype(np.float32)
    step = max(1, round(_GRID_MM / mm_per_px))
    grid = np.s_[step // 2 :: step, step // 2 :: step]
    gather = _GATHER_MM / mm_per_px
    near = np.maximum(cv2.GaussianBlur(inner, (0, 0), gather)[grid], 1e-4)
    ways = np.arange(_WAYS) * np.pi / _WAYS
    power = []
    for way in ways:
        dark = np.maximum(-cv2.filter2D(flat, cv2.CV_32F, _line_filter(way, mm_per_px)), 0)
        power.append(cv2.GaussianBlur(dark * dark * inner, (0, 0), gather)[grid] / near)
    inside = inner[grid] > 0
    v, u = np.nonzero(inside)
    points = (np.column_stack([u, v]) * step + step // 2) * mm_per_px
    energy = np.stack(power).astype(np.float64)[:, inside].T
    return LineProfiles(np.asarray(points, dtype=np.float64), ways, np.ascontiguousarray(energy))


def _line_filter(way_rad: float, mm_per_px: float) -> NDArray[np.float32]:
    """Return a kernel that answers to a dark line which runs one way (negative there)."""
    reach = round(3 * _LINE_LONG_MM / mm_per_px)
    v, u = np.mgrid[-reach : reach + 1, -reach : reach + 1] * mm_per_px
    along = u * np.cos(way_rad) + v * np.sin(way_rad)
    across = -u * np.sin(way_rad) + v * np.cos(way_rad)
    share = (across / _LINE_MM) ** 2
    kernel = (1 - share) * np.exp(-0.5 * share - 0.5 * (along / _LINE_LONG_MM) ** 2)
    kernel -= kernel.mean()
    return np.asarray(kernel / np.abs(kernel).sum(), dtype=np.float32)
