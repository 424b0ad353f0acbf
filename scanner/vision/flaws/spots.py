"""Dark or tinted spots on a face and what can be measured on each: the raw matter of knots."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

Bools = NDArray[np.bool_]

# Levels of darkness (in the board's own spread) at which spots are cut out; a knot shows at
# several of them, and the outline that looks most like a knot is kept.
_LEVELS = (1.6, 2.2, 3.0, 4.0, 5.5, 7.5, 10.0, 14.0)
_SMALLEST_MM = 3.0
_LARGEST_MM = 150.0
_THINNEST_ACROSS_MM = 5.0
_LONG_ACROSS_MM = 25.0

FEATURES = (
    "log_size",
    "darker",
    "darker_peak",
    "around",
    "tint",
    "redder",
    "yellower",
    "step",
    "solidity",
    "roundness",
    "along",
    "swirl",
    "turn",
    "disorder",
    "beyond",
    "at_edge",
    "texture",
    "browner",
    "greyer",
    "sharpness",
)


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
    sigma = 0.7 / WORK_MM_PER_PX
    darkness = cv2.GaussianBlur(
        np.minimum(surface.darker, 25) * 0.7 + np.minimum(surface.darker_around, 25) * 0.3,
        (0, 0),
        sigma,
    )
    sure = cv2.erode(surface.wood.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=2)
    maps = _Maps(surface)
    least = np.pi / 4 * (_SMALLEST_MM / WORK_MM_PER_PX) ** 2
    spots: list[Spot] = []
    across = np.zeros(surface.wood.shape, dtype=bool)
    for level in _LEVELS:
        dark = ((darkness > level) & (sure > 0)).astype(np.uint8)
        # Opening parts a knot from the thin dark lines that run into it.
        above = cv2.morphologyEx(
            dark, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
        )
        count, labels, stats, _ = cv2.connectedComponentsWithStats(above, connectivity=4)
        for index in range(1, count):
            x, y, w, h, area = (int(v) for v in stats[index])
            if area < least or max(w, h) * WORK_MM_PER_PX > _LARGEST_MM:
                continue
            region = labels[y : y + h, x : x + w] == index
            # A pencil line or a saw's score across the board; a spike knot is wider. Its darker
            # pieces at the higher levels go with it.
            if h > 4 * w and area / h * WORK_MM_PER_PX < _THINNEST_ACROSS_MM:
                if h * WORK_MM_PER_PX > _LONG_ACROSS_MM:
                    across[y : y + h, x : x + w] |= region
                continue
            if across[y : y + h, x : x + w][region].mean() > 0.6:
                continue
            spot = maps.spot(y, x, _filled(region))
            if spot is not None:
                spots.append(spot)
    return spots


def _filled(region: Bools) -> Bools:
    """Return the region with its holes filled and its rim rounded by half a millimetre."""
    canvas = np.zeros((region.shape[0] + 4, region.shape[1] + 4), dtype=np.uint8)
    canvas[2:-2, 2:-2] = region
    flooded = canvas.copy()
    cv2.floodFill(flooded, None, (0, 0), 1)
    solid = canvas | (1 - flooded)
    return np.asarray(solid[2:-2, 2:-2], dtype=bool)


class _Maps:
    """The maps a spot is measured on, computed once a face."""

    def __init__(self, surface: Surface) -> None:
        self.surface = surface
        lab = surface.lab
        self.light = np.asarray(cv2.GaussianBlur(lab[..., 0], (0, 0), 1.0), dtype=np.float32)
        self.a, self.b = (
            np.asarray(cv2.GaussianBlur(lab[..., channel], (0, 0), 1.5), dtype=np.float32)
            for channel in (1, 2)
        )
        fine = lab[..., 0] - cv2.GaussianBlur(lab[..., 0], (0, 0), 2.0)
        self.texture = np.sqrt(cv2.GaussianBlur(fine * fine, (0, 0), 2.0))
        self.usual_texture = float(np.median(self.texture[surface.wood])) + 1e-3
        g_x = cv2.Sobel(self.light, cv2.CV_32F, 1, 0, scale=0.125)
        g_y = cv2.Sobel(self.light, cv2.CV_32F, 0, 1, scale=0.125)
        self.gradient = np.hypot(g_x, g_y)
        # A shadow dims all colours about alike, blue (the sky's) least; wood darkens by browning.
        rgb = np.maximum(cv2.cvtColor(lab, cv2.COLOR_LAB2RGB), 0.01)
        soft = cv2.GaussianBlur(np.log(rgb), (0, 0), 1.5)
        self.brown = np.asarray(soft[..., 0] - soft[..., 2], dtype=np.float32)
        self.dim = np.asarray(soft.mean(axis=2), dtype=np.float32)
        grain = surface.grain
        self.sin2 = np.sin(2 * grain.angle_rad) * grain.coherence
        self.cos2 = np.cos(2 * grain.angle_rad) * grain.coherence

    def spot(self, row: int, column: int, region: Bools) -> Spot | None:
        """Return the spot with its measures, or None where it is too small to say."""
        surface = self.surface
        area = int(region.sum())
        radius = float(np.sqrt(area / np.pi))
        margin = int(np.ceil(1.5 * radius)) + 4
        top, left = max(0, row - margin), max(0, column - margin)
        bottom = min(surface.wood.shape[0], row + region.shape[0] + margin)
        right = min(surface.wood.shape[1], column + region.shape[1] + margin)
        window = (slice(top, bottom), slice(left, right))
        inside = np.zeros((bottom - top, right - left), dtype=np.uint8)
        inside[row - top : row - top + region.shape[0], column - left :][:, : region.shape[1]] = (
            region
        )
        wood = surface.wood[window]
        away = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 3)
        mask = inside.astype(bool)
        collar = (away > 1) & (away <= max(3.0, 0.8 * radius)) & wood
        wide = (away > 0) & (away <= 4 + 1.3 * radius) & wood
        if np.count_nonzero(collar) < 6 or np.count_nonzero(wide) < 12:
            return None
        rim = mask & (cv2.erode(inside, np.ones((3, 3), np.uint8)) == 0)
        rows, columns = np.nonzero(mask)
        c_y, c_x = rows.mean(), columns.mean()
        off = np.vstack([columns - c_x, rows - c_y])
        spread = off @ off.T / max(area - 1, 1) + np.eye(2) * 0.1
        wide_axis, thin_axis = np.sqrt(np.maximum(np.linalg.eigvalsh(spread)[::-1], 0.05))
        hull = cv2.convexHull(np.column_stack([columns, rows]).astype(np.int32))
        hull_area = max(cv2.contourArea(hull) + 0.5 * cv2.arcLength(hull, True) + 1, area)
        width = surface.wood.shape[1]

        def over(pixels: Bools) -> NDArray[np.intp]:
            at_y, at_x = np.nonzero(pixels)
            return np.asarray((at_y + top) * width + at_x + left, dtype=np.intp)

        in_spot, in_collar, in_rim = over(mask), over(collar), over(rim)
        # Grain that parts before the spot and closes behind it turns by the sign of -dx * dy.
        y, x = np.nonzero(wide)
        expected = -np.sign((x - c_x) * (y - c_y))
        sin2 = self.sin2.take((y + top) * width + x + left)
        swirl = _mean(expected * sin2)
        turn = _mean(np.abs(sin2))
        disorder = 1.0 - float(np.hypot(_at(self.sin2, in_spot), _at(self.cos2, in_spot)))
        darker = surface.darker.take(in_spot)
        unit = float(np.float32(surface.light_spread))
        depth = _at(self.light, in_collar) - _at(self.light, in_spot)
        browner = _at(self.brown, in_spot) - _at(self.brown, in_collar)
        dimmer = _at(self.dim, in_collar) - _at(self.dim, in_spot)
        step = _at(self.gradient, in_rim)
        touching = np.count_nonzero(~wood & (away <= 4)) / max(1.0, len(in_rim))
        measures = np.array(
            [
                np.log(2 * radius * WORK_MM_PER_PX),
                _mean(darker),
                float(np.percentile(darker, 90)),
                _at(surface.darker_around, in_spot),
                _at(surface.tint, in_spot),
                _at(self.a, in_spot) - _at(self.a, in_collar),
                _at(self.b, in_spot) - _at(self.b, in_collar),
                step / unit,
                area / hull_area,
                float(thin_axis / wide_axis),
                float(np.log(np.sqrt(spread[0, 0] / spread[1, 1]))),
                swirl,
                turn,
                disorder,
                depth / unit,
                min(touching, 1.0),
                _at(self.texture, in_spot) / self.usual_texture,
                browner,
                min(max(browner / max(dimmer, 0.03), -1.5), 1.5),
                min(step / max(depth, 1.0), 1.0),
            ],
            dtype=np.float64,
        )
        return Spot(row, column, region, measures, area * WORK_MM_PER_PX**2)


def _mean(values: NDArray[np.floating]) -> float:
    """Return the mean; numpy's own takes three times as long over the few pixels of a spot."""
    return float(np.add.reduce(values)) / len(values)


def _at(pixels: NDArray[np.floating], places: NDArray[np.intp]) -> float:
    """Return the mean of a map at places of its flat array."""
    return _mean(pixels.take(places))
