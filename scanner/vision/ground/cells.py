"""The ground beside the rule as a grid of cells, longer along the rule than across it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Flags = NDArray[np.bool_]

# A board lies along the rule: means along it lose nothing, across it an edge must stay sharp.
ALONG_MM = 24.0
ACROSS_MM = 4.0
# Nothing further from the rule is looked at: half a metre of floor and the widest board.
REACH_MM = 1050.0
KINDS = 14
# Shadows and contact stains round the rule would pass for edges of its own.
_RULE_RIM_MM = 8.0
# Lightness, both colour axes, unrest along and across: differences that look alike to the eye.
_LOOK_SCALE = np.array([6.0, 2.5, 3.5, 0.35, 0.35], dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Cells of the ground, rows across the rule, columns along it.

    Attributes
    ----------
    looks
        (R, C, 5) mean L, a, b (CIELAB) and log unrest of L along and across, scaled so that 1 is
        a plain difference.
    labels
        (R, C) which kind of look, 0 ... KINDS - 1.
    known
        (R, C) cells that show floor or wood: all seen, none on the rule.
    rule
        (R, C) cells on the rule.
    origin_mm
        Ground mm of the first cell's corner.
    """

    looks: Singles
    labels: NDArray[np.uint8]
    known: Flags
    rule: Flags
    origin_mm: tuple[float, float]

    def turned(self, slope: float) -> Cells:
        """Return the cells with each column moved so that lines of this slope run along rows.

        The middle column stays; cells from outside are unknown.
        """
        source, there = moved_rows(self.labels.shape, slope)
        at = np.arange(self.labels.shape[1])[None, :]
        return Cells(
            self.looks[source, at],
            self.labels[source, at],
            self.known[source, at] & there,
            self.rule[source, at] & there,
            self.origin_mm,
        )

    def turned_flags(self, slope: float) -> tuple[Flags, Flags]:
        """Return `known` and `rule` of the turned cells alone."""
        source, there = moved_rows(self.labels.shape, slope)
        at = np.arange(self.labels.shape[1])[None, :]
        return self.known[source, at] & there, self.rule[source, at] & there

    def ground_from_turned(
        self, rows: NDArray[np.float64], columns: NDArray[np.float64], slope: float
    ) -> NDArray[np.float64]:
        """Return ground mm (N, 2) of places in the turned grid, in cells from its corner."""
        middle = self.labels.shape[1] / 2
        x = self.origin_mm[0] + columns * ALONG_MM
        y = self.origin_mm[1] + rows * ACROSS_MM + (columns - middle) * ALONG_MM * slope
        return np.column_stack([x, y])


def moved_rows(shape: tuple[int, ...], slope: float) -> tuple[NDArray[np.intp], Flags]:
    """Return the row that each place (rows, columns) of a turned grid comes from, if there."""
    rows, columns = shape
    lift = (np.arange(columns) - (columns - 1) / 2) * ALONG_MM * slope / ACROSS_MM
    source = np.arange(rows)[:, None] + np.round(lift).astype(np.intp)[None, :]
    there = (source >= 0) & (source < rows)
    return np.clip(source, 0, rows - 1), there


def cells_of(ground: FacePicture, rule_area: Polygon) -> Cells:
    """Return the cells of a flat picture of the ground; x runs along the rule.

    Parameters
    ----------
    rule_area
        Where the rule or strip lies, mm of the picture's frame.
    """
    mm = ground.mm_per_px
    _, y0, _, y1 = rule_area.bounds if not rule_area.is_empty else (0.0, 0.0, 0.0, 0.0)
    step_x, step_y = max(1, round(ALONG_MM / mm)), max(1, round(ACROSS_MM / mm))
    first = max(0, int((y0 - REACH_MM - ground.origin_mm[1]) / mm))
    last = max(first + step_y, int((y1 + REACH_MM - ground.origin_mm[1]) / mm))
    pixels, seen = ground.pixels[first:last], ground.seen[first:last]
    left = int(seen.any(axis=0).argmax())
    rows, columns = pixels.shape[0] // step_y, (pixels.shape[1] - left) // step_x
    pixels = pixels[: rows * step_y, left : left + columns * step_x]
    seen = seen[: rows * step_y, left : left + columns * step_x]
    origin = (ground.origin_mm[0] + (left - 0.5) * mm, ground.origin_mm[1] + (first - 0.5) * mm)
    size = (columns, rows)
    looks = _looks(pixels, size)
    canvas: NDArray[np.uint8] = np.zeros((2, *seen.shape), dtype=np.uint8)
    if not rule_area.is_empty:
        for layer, rim in enumerate((0.0, _RULE_RIM_MM)):
            ring = np.asarray(rule_area.buffer(rim).exterior.coords) - np.asarray(origin)
            cv2.fillPoly(canvas[layer], [np.round(ring / mm - 0.5).astype(np.int32)], 1)
    rule, near = (_mean(canvas[k].astype(np.float32), size) for k in (0, 1))
    known = (_mean(seen.astype(np.float32), size) > 0.99) & (near < 0.01)
    return Cells(looks, _kinds(looks, known), known, rule > 0.5, origin)


def _mean(values: Singles, size: tuple[int, int]) -> Singles:
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _looks(pixels: NDArray[np.uint8], size: tuple[int, int]) -> Singles:
    lab = cv2.cvtColor(pixels.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    light = np.ascontiguousarray(lab[..., 0])
    along = np.abs(cv2.Sobel(light, cv2.CV_32F, 1, 0, ksize=1))
    across = np.abs(cv2.Sobel(light, cv2.CV_32F, 0, 1, ksize=1))
    unrest = [np.log1p(_mean(np.asarray(one, np.float32), size)) for one in (along, across)]
    return (
        np.dstack([_mean(np.asarray(lab, np.float32), size), *unrest]).astype(np.float32)
        / _LOOK_SCALE
    )


def _kinds(looks: Singles, known: Flags) -> NDArray[np.uint8]:
    """Return each cell's kind of look by k-means."""
    labels = np.zeros(known.shape, dtype=np.uint8)
    samples = np.ascontiguousarray(looks[known])
    samples = np.ascontiguousarray(samples[:: max(1, len(samples) // 6000)])
    if len(samples) < KINDS:
        return labels
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.1)
    _, _, centres = cv2.kmeans(samples, KINDS, None, stop, 1, cv2.KMEANS_PP_CENTERS)  # type: ignore[call-overload]
    off = (looks**2).sum(axis=-1)[..., None] - 2 * looks @ centres.T + (centres**2).sum(axis=-1)
    return np.asarray(off.argmin(axis=-1), dtype=np.uint8)
