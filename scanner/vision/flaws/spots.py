"""Dark or tinted spots on a face and what can be measured on each: the raw matter of knots."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.cv import pieces_in
from scanner.vision.flaws.spot_measures import FEATURES, Piece, measured
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

Bools = NDArray[np.bool_]

# Levels of darkness (in the board's own spread) at which spots are cut out; a knot shows at
# several of them, and the outline that looks most like a knot is kept.
_LEVELS = (1.6, 2.2, 3.0, 4.0, 5.5, 7.5, 10.0, 14.0)
_SMALLEST_MM = 3.0
_LARGEST_MM = 150.0
_THINNEST_ACROSS_MM = 5.0
_LONG_ACROSS_MM = 25.0


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """One spot: its pixels inside a box of the surface, and its measures.

    Attributes
    ----------
    row, column
        Corner of the box.
    region
        (h, w) pixels of the spot in the box.
    measures
        By name, in the order of `FEATURES`.
    """

    row: int
    column: int
    region: Bools
    measures: NDArray[np.float64]
    area_mm2: float

    def measure(self, name: str) -> float:
        """Return one measure by name."""
        return float(self.measures[FEATURES.index(name)])


def find_spots(surface: Surface) -> list[Spot]:
    """Return spots of the face at all levels, nested ones too."""
    darkness = np.minimum(surface.darker, np.float32(25)) * np.float32(0.7)
    darkness += np.minimum(surface.darker_around, np.float32(25)) * np.float32(0.3)
    soft = np.asarray(cv2.GaussianBlur(darkness, (0, 0), 0.7 / WORK_MM_PER_PX))
    wood = surface.wood.astype(np.uint8)
    sure = np.asarray(cv2.erode(wood, np.ones((3, 3), np.uint8), iterations=2), np.uint8)
    least = np.pi / 4 * (_SMALLEST_MM / WORK_MM_PER_PX) ** 2
    seen: list[Piece] = []
    across = np.zeros(surface.wood.shape, dtype=bool)
    ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    for level in _LEVELS:
        dark = (soft > level).view(np.uint8) & sure
        # Opening parts a knot from the thin dark lines that run into it.
        above = np.asarray(cv2.morphologyEx(dark, cv2.MORPH_OPEN, ellipse), np.uint8)
        labels, boxes = pieces_in(above, connectivity=4)
        is_spot = (boxes[:, 4] >= least) & (
            boxes[:, 2:4].max(axis=1) <= _LARGEST_MM / WORK_MM_PER_PX
        )
        for index in np.flatnonzero(is_spot):
            x, y, w, h, area = (int(v) for v in boxes[index])
            region = labels[y : y + h, x : x + w] == index
            # A pencil line or a saw's score across the board; a spike knot is wider. Its darker
            # pieces at the higher levels go with it.
            if h > 4 * w and area / h * WORK_MM_PER_PX < _THINNEST_ACROSS_MM:
                if h * WORK_MM_PER_PX > _LONG_ACROSS_MM:
                    across[y : y + h, x : x + w] |= region
                continue
            if across[y : y + h, x : x + w][region].mean() > 0.6:
                continue
            seen.append((y, x, _filled(region)))
    return [
        Spot(row, column, region, measures, int(region.sum()) * WORK_MM_PER_PX**2)
        for (row, column, region), measures in measured(surface, seen)
    ]


def _filled(region: Bools) -> Bools:
    """Return the region with its holes filled and its rim rounded by half a millimetre."""
    canvas = np.zeros((region.shape[0] + 4, region.shape[1] + 4), dtype=np.uint8)
    canvas[2:-2, 2:-2] = region
    flooded = canvas.copy()
    cv2.floodFill(flooded, None, (0, 0), 1)
    solid = canvas | (1 - flooded)
    return np.asarray(solid[2:-2, 2:-2], dtype=bool)
