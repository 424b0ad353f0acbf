"""Two boards laid edge to edge or end to end, which pass for one wide or one long board.

Where they meet a line darker than the wood on both sides of it runs straight through the whole
face. Wood's own lines wander, end on the way, or come in dozens; the border of a shadow has a dark
side only. A split from end to end and a drawn line look alike, so it is told, not refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]
Bools = NDArray[np.bool_]

# The wood that a line is held against lies so far from its middle, on both sides.
_BESIDE_MM = (2.0, 5.0)
# Nearer to the arris than this, or to an end, no line is held against wood on both sides.
_RIM_MM = 6.0
# So near to an arris, or to an end, nobody's other board begins.
_NARROWEST_MM, _SHORTEST_MM = 20.0, 60.0
# Lengths of line that count as one, along the board and across it. Across, saws leave short lines.
_CELL_MM, _CELL_ACROSS_MM = 10.0, 5.0
_FEWEST_CELLS = 12
# A line strays by no more than this off the straight one, and is turned by no more than this
# against the board's own direction (mm in a mm).
_STRAYS_MM, _TURN, _TURN_ACROSS = 1.0, 0.02, 0.04
_MOST_TURN_MM = 16.0
# Darkness counts in units of what the face's own lines come to, but no face is so even that less
# than this (in lightness, 0 to 100) were usual; no single stretch outweighs the others.
_LEAST_USUAL, _MOST_DARK = 0.6, 4.0
# A stretch shows a line where it is so dark. So many of all must, and no line further off may come
# to more than this share of it.
_DARK, _SHOWN, _OTHERS, _OFF_MM = 1.5, 0.85, 0.65, 8.0


@dataclass(frozen=True, slots=True)
class Seam:
    """A line that runs straight through a whole face.

    Attributes
    ----------
    runs
        "along" the board, from end to end, or "across" it, from edge to edge.
    at_mm
        Where its middle lies within 2 mm, picture mm: y of one along, x of one across.
    """

    runs: Literal["along", "across"]
    at_mm: float


def seams(face: FacePicture, outline: Polygon) -> tuple[Seam, ...]:
    """Return the lines that run straight through a whole face.

    Parameters
    ----------
    face
        The flat picture, 0.3 to 1.0 mm per pixel, the board along x.
    outline
        The traced face, mm as in the picture.
    """
    light = cv2.cvtColor(face.pixels, cv2.COLOR_RGB2LAB)[..., 0].astype(np.float32) * (100 / 255)
    inside = np.zeros(light.shape, np.uint8)
    ring = (np.asarray(outline.exterior.coords) - face.origin_mm) / face.mm_per_px
    cv2.fillPoly(inside, [np.round(ring).astype(np.int32)], 1)
    rim = 2 * round(_RIM_MM / face.mm_per_px) + 1
    rows, columns = np.nonzero(inside)
    if not len(rows):
        return ()
    here = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    inside[~face.seen] = 0
    wood = cv2.erode(inside, np.ones((rim, rim), np.uint8), borderValue=0)[here] > 0
    x0, y0 = np.array([columns.min(), rows.min()]) * face.mm_per_px + face.origin_mm
    mm = face.mm_per_px
    along = _straightest(light[here], wood, mm, _CELL_MM, _TURN, _NARROWEST_MM)
    light, wood = np.ascontiguousarray(light[here].T), np.ascontiguousarray(wood.T)
    across = _straightest(light, wood, mm, _CELL_ACROSS_MM, _TURN_ACROSS, _SHORTEST_MM)
    found = []
    if along is not None and along.goes_through:
        found.append(Seam("along", float(y0 + along.at_mm)))
    if across is not None and across.goes_through:
        found.append(Seam("across", float(x0 + across.at_mm)))
    return tuple(found)


def doubts_of_seams(face: FacePicture, outline: Polygon) -> list[str]:
    """Say where two boards may meet within a face as traced."""
    left, upper, _, _ = outline.bounds
    said = []
    for seam in seams(face, outline):
        if seam.runs == "along":
            where = f"from end to end, {seam.at_mm - upper:.0f} mm from the face's upper edge"
            lies, alike = "side by side", "a split"
        else:
            where = f"from edge to edge, {seam.at_mm - left:.0f} mm from the face's left end"
            lies, alike = "end to end", "a deep saw mark"
        said.append(
            f"a dark line runs straight through the face {where}: if two boards lie {lies} there,"
            f" take a photo of each alone; {alike} or a drawn line looks the same"
        )
    return said


@dataclass(frozen=True, slots=True)
class _Line:
    """The darkest straight line: its middle, mm, where it shows, and how dark others are to it."""

    at_mm: float
    shown: float
    others: float

    @property
    def goes_through(self) -> bool:
        return self.shown >= _SHOWN and self.others < _OTHERS


def _straightest(
    light: Singles, wood: Bools, mm: float, cell_mm: float, turn: float, margin_mm: float
) -> _Line | None:
    """Return the darkest line that runs straight through all columns, or None of a small face."""
    dark, told = _dark_cells(light, wood, mm, cell_mm)
    rows, cells = dark.shape
    margin = round(margin_mm / mm)
    if cells < _FEWEST_CELLS or rows <= 2 * margin or not told.any():
        return None
    middle = np.arange(cells) / (cells - 1) - 0.5
    most_mm = min(_MOST_TURN_MM, turn * cells * cell_mm)
    best, best_share, at = np.zeros(rows), np.zeros(rows), np.arange(rows)[:, None]
    for turn_mm in np.arange(-most_mm, most_mm + _STRAYS_MM, _STRAYS_MM):
        line = np.clip(at + np.round(middle * turn_mm / mm).astype(int), 0, rows - 1)
        there, known = dark[line, np.arange(cells)], told[line, np.arange(cells)]
        count = known.sum(axis=1)
        whole = count > _SHOWN * cells
        mean = np.where(whole, (there * known).sum(axis=1) / np.maximum(count, 1), 0.0)
        shown = np.where(whole, ((there > _DARK) & known).sum(axis=1) / np.maximum(count, 1), 0.0)
        better = mean > best
        best, best_share = np.where(better, mean, best), np.where(better, shown, best_share)
    best[:margin] = best[-margin:] = 0.0
    row = int(best.argmax())
    others = best[np.abs(np.arange(rows) - row) * mm > _OFF_MM]
    most = float(others.max()) if len(others) else 0.0
    return _Line(row * mm, float(best_share[row]), most / max(float(best[row]), 1e-6))


def _dark_cells(light: Singles, wood: Bools, mm: float, cell_mm: float) -> tuple[Singles, Bools]:
    """Return (H, cells) how dark a line runs near each row of a cell, and which are told."""
    fine = cv2.GaussianBlur(light, (0, 0), 0.3 / mm)
    first, last = (round(reach / mm) for reach in _BESIDE_MM)
    beside = np.zeros((2 * last + 1, 1), np.float32)
    beside[: last - first + 1] = 1 / (last - first + 1)
    above, below = (
        cv2.filter2D(fine, cv2.CV_32F, kernel, borderType=cv2.BORDER_REPLICATE)
        for kernel in (beside, beside[::-1].copy())
    )
    dark = np.where(wood, np.minimum(above, below) - fine, 0).astype(np.float32)
    size = (max(1, round(light.shape[1] * mm / cell_mm)), light.shape[0])
    share = cv2.resize(wood.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    mean = cv2.resize(dark, size, interpolation=cv2.INTER_AREA) / np.maximum(share, 1e-3)
    told = np.asarray(share > 0.5)
    if not told.any():
        return np.zeros_like(mean), told
    usual = max(_LEAST_USUAL, float(np.sqrt(np.mean(mean[told] ** 2))))
    strays = np.ones((2 * round(_STRAYS_MM / mm) + 1, 1), np.uint8)
    near = cv2.dilate(np.where(told, mean / usual, 0).astype(np.float32), strays)
    return np.clip(near, 0, _MOST_DARK).astype(np.float32), told
