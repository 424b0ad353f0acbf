"""How a small dark spot stands out from its own face: against the lines through it, and its like.

Where saw marks cross dark pores there are dark specks, and dark ring lines end in dark tips: both
are wood. A hole is darker than the lines through it explain, and the face does not hold many alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.surface import WORK_MM_PER_PX

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.flaws.surface import Bools, Singles, Surface

# Spots are compared with specks of about their own size: radii in working px.
_RADII_PX = (2, 4, 7)
# The lines through a spot, and the wood beside both, are looked at beyond its soft rim.
_APART_PX = 5
_FLANK_PX = 9
# A speck nearly as lone as the spot is its like.
_ALIKE = 0.7
# Nearer to the arris than this, light and floor make specks of their own.
_RIM_PX = 6
_FAINTEST = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class OwnTexture:
    """Maps of one face against which its small spots are held, by radius in working px.

    Attributes
    ----------
    origin_mm
        Face mm of the first pixel.
    lone
        (H, W) how much darker a speck is than the lines along and across through it explain, as a
        natural logarithm of light.
    specks
        What ``lone`` is at each of the face's specks, rising.
    """

    origin_mm: tuple[float, float]
    lone: dict[int, Singles]
    specks: dict[int, Singles]

    def measure(self, outline: Polygon) -> tuple[float, float]:
        """Return how lone a spot (face mm) is, and the logarithm of how many specks are alike."""
        radius_px = float(np.sqrt(outline.area / np.pi)) / WORK_MM_PER_PX
        radius = min(_RADII_PX, key=lambda r: abs(np.log(r / max(radius_px, 1.0))))
        lone = self._most(self.lone[radius], outline)
        specks = self.specks[radius]
        alike = len(specks) - int(np.searchsorted(specks, _ALIKE * lone))
        return lone, float(np.log1p(alike))

    def _most(self, values: Singles, outline: Polygon) -> float:
        """Return the greatest value inside an outline."""
        ring = (np.asarray(outline.exterior.coords) - np.asarray(self.origin_mm)) / WORK_MM_PER_PX
        low = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
        high = np.minimum(np.ceil(ring.max(axis=0)).astype(int) + 1, values.shape[::-1])
        box = values[low[1] : high[1], low[0] : high[0]]
        if box.size == 0:
            return 0.0
        inside = np.zeros(box.shape, np.uint8)
        cv2.fillPoly(inside, [np.round((ring - low) * 16).astype(np.int32)], 1, shift=4)
        return float(box[inside > 0].max()) if inside.any() else float(box.max())


def own_texture(surface: Surface) -> OwnTexture:
    """Return the maps of a face."""
    light = surface.lab[..., 0] + np.float32(16.0)
    light /= np.float32(116.0)
    light **= 3
    light += np.float32(_FAINTEST)
    np.log(light, out=light)
    size = 2 * _RIM_PX + 1
    inner = cv2.erode(surface.wood.astype(np.uint8), np.ones((size, size), np.uint8)) > 0
    lone, specks = {}, {}
    for radius in _RADII_PX:
        values = _lone(light, surface.wood, radius)
        around = np.ones((2 * radius + 3, 2 * radius + 3), np.uint8)
        tops = inner & (cv2.dilate(values, around) == values)
        lone[radius], specks[radius] = values, np.sort(values[tops])
    return OwnTexture(surface.origin_mm, lone, specks)


def _lone(light: Singles, wood: Bools, radius: int) -> Singles:
    """Return how much darker each place is than its row's and its column's lines explain.

    Shading multiplies: a saw mark's darkness and a pore line's add up in the logarithm. Of the two
    sides of a line the darker counts, and beside an arris the one that is wood.
    """
    side = 2 * max(1, round(0.6 * radius)) + 1
    apart = radius + _APART_PX + _FLANK_PX // 2
    lone = -_mean(light, side, side)
    along, across = _mean(light, _FLANK_PX, side), _mean(light, side, _FLANK_PX)
    corner = _mean(light, _FLANK_PX, _FLANK_PX)
    lone += np.minimum(*_both(along, wood, 0, apart))
    lone += np.minimum(*_both(across, wood, apart, 0))
    corner *= np.float32(0.25)
    for aside in (apart, -apart):
        for values in _both(corner, wood, apart, aside):
            lone -= values
    return lone


def _both(values: Singles, wood: Bools, down: int, aside: int) -> tuple[Singles, Singles]:
    """Return the values on opposite sides; where one side is no wood, the other's for both."""
    one, other = _moved(values, down, aside), _moved(values, -down, -aside)
    no_other = _bare(wood, -down, -aside)
    instead = one[no_other]
    np.copyto(one, other, where=_bare(wood, down, aside))
    other[no_other] = instead
    return one, other


def _mean(values: Singles, width: int, height: int) -> Singles:
    return np.asarray(cv2.blur(values, (width, height)), dtype=np.float32)


def _moved(values: Singles, down: int, right: int) -> Singles:
    """Return an array moved, its border entering."""
    rows, columns = values.shape
    above, left = max(down, 0), max(right, 0)
    wide = cv2.copyMakeBorder(
        values, above, max(-down, 0), left, max(-right, 0), cv2.BORDER_REPLICATE
    )
    y, x = max(-down, 0), max(-right, 0)
    return np.asarray(wide, dtype=np.float32)[y : y + rows, x : x + columns]


def _bare(wood: Bools, down: int, right: int) -> Bools:
    """Return where an array moved so has no wood; none enters from beyond it."""
    rows, columns = wood.shape
    bare = np.ones_like(wood)
    there = wood[max(-down, 0) : rows - max(down, 0), max(-right, 0) : columns - max(right, 0)]
    height, width = there.shape
    y, x = max(down, 0), max(right, 0)
    np.logical_not(there, out=bare[y : y + height, x : x + width])
    return bare
