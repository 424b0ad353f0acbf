"""How far a print's black reaches over its drawn edges: ink, blur and tone curve, from codes.

The outer sides of all markers move alike, so that their bleed passes for tilt. Inside a marker
black and white take turns: bleed moves edges from black to white one way and edges from white to
black the other way, which no camera and no print scale does.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.strip_layout import MODULE_MM
from scanner.vision.cv import Bytes, Floats, code_modules, sampled
from scanner.vision.evidence.seen import Bleed

if TYPE_CHECKING:
    from numpy.typing import NDArray

_MODULES = 6
# Heights inside a module at which an edge is crossed, and places tried along the crossing.
_CROSSED = (0.3, 0.5, 0.7)
_REACH = np.linspace(-0.5, 0.5, 21)
_LAG = 2
# Modules seen narrower than this run into each other; fewer markers or edges tell nothing sure.
LEAST_MODULE_PX = 3.5
_FEWEST_MARKERS, _FEWEST_EDGES = 6, 4
# The narrower modules are seen, the more neighbours pull: on drawn strips with known bleed it comes
# out to 0.04 mm from 5.5 px on, to 0.12 mm at 4 px.
_LEAST_SD_MM, _NARROW_SD_MM, _NARROW_PX = 0.03, 0.12, 4.0


@cache
def _turns(marker: int, axis: int) -> NDArray[np.int_]:
    """Return how a marker's code turns at its inner lines, (6 rows, 5 lines).

    1: from black to white going right (axis 0) or down (1), -1: from white to black, 0: no edge.
    """
    white = code_modules(marker).astype(np.int_)
    white = white if axis == 0 else white.T
    return np.asarray(white[:, 1:] - white[:, :-1])


def bleed_sd_mm(module_px: float) -> float:
    """Return how well bleed is measured where a marker's modules are seen so wide."""
    return math.hypot(_LEAST_SD_MM, _NARROW_SD_MM * (_NARROW_PX / module_px) ** 3)


def module_px(corners: Floats, axis: int) -> Floats:
    """Return how wide modules are seen along (0) or across (1) a strip, (N,) px."""
    ring = corners if axis == 0 else np.roll(corners, -1, axis=1)
    steps = np.linalg.norm([ring[:, 1] - ring[:, 0], ring[:, 2] - ring[:, 3]], axis=2)
    return np.asarray(steps.min(axis=0) / _MODULES)


def measure_bleed(grey: Bytes, ids: NDArray[np.int_], corners: Floats) -> Bleed | None:
    """Return by how much black reaches over its edges along and across a strip.

    Parameters
    ----------
    grey
        Brightness, full size.
    ids
        (N,), of the markers.
    corners
        (N, 4, 2) px, refined; top left first, clockwise as printed.

    Returns
    -------
    Bleed or None
        None where modules are seen too small or markers are too few.
    """
    values, sds = [], []
    for axis in range(2):
        wide = module_px(corners, axis)
        kept = wide >= LEAST_MODULE_PX
        if kept.sum() < _FEWEST_MARKERS:
            return None
        # Across: the same marker with its rows and columns exchanged.
        square = corners[kept] if axis == 0 else corners[kept][:, [0, 3, 2, 1]]
        turns = np.array([_turns(int(marker), axis) for marker in ids[kept]])
        bleed, weight = _of_markers(_offsets(grey, square, turns), turns)
        told = np.isfinite(bleed)
        if told.sum() < _FEWEST_MARKERS:
            return None
        value, sd = _robust_mean(bleed[told], weight[told])
        values.append(value * MODULE_MM)
        sds.append(math.hypot(sd * MODULE_MM, bleed_sd_mm(float(np.median(wide[kept])))))
    return Bleed((values[0], values[1]), (sds[0], sds[1]))


def _offsets(grey: Bytes, square: Floats, turns: NDArray[np.int_]) -> Floats:
    """Return how far edges (N, 6, 5) lie past their lines, in modules; NaN where there is none."""
    down = (np.arange(_MODULES)[:, None] + np.array(_CROSSED)).ravel()
    right = (np.arange(1, _MODULES)[:, None] + _REACH).ravel()
    points = _on_square(square, right / _MODULES, down / _MODULES)
    values = sampled(grey, points).astype(np.float64)
    values = values.reshape(len(square), _MODULES, len(_CROSSED), _MODULES - 1, len(_REACH))
    profile = values.mean(axis=2)
    rise = (profile[..., 2 * _LAG :] - profile[..., : -2 * _LAG]) * turns[..., None]
    weight = np.maximum(rise, 0.0) ** 2
    total = weight.sum(axis=3)
    middle = (weight * _REACH[_LAG:-_LAG]).sum(axis=3) / np.maximum(total, 1e-9)
    strong = total > 0.1 * np.median(total[turns != 0])
    return np.where((turns != 0) & strong, middle, np.nan)


def _on_square(square: Floats, u: Floats, v: Floats) -> Floats:
    """Return px (N, V, U, 2) of places u (U,) right and v (V,) down, 0 to 1, seen in perspective.

    ``square`` (N, 4, 2): corners of each.
    """
    p0, p1, p2, p3 = (square[:, i] for i in range(4))
    # The projective map of the unit square (P. Heckbert, 1989).
    across, side, away = p1 - p2, p3 - p2, p0 - p1 + p2 - p3
    det = across[:, 0] * side[:, 1] - side[:, 0] * across[:, 1]
    g = (away[:, 0] * side[:, 1] - side[:, 0] * away[:, 1]) / det
    h = (across[:, 0] * away[:, 1] - away[:, 0] * across[:, 1]) / det
    a = p1 - p0 + g[:, None] * p1
    b = p3 - p0 + h[:, None] * p3
    # What goes with u alone and what with v alone, before the whole grid is formed of them.
    below = (1 + g[:, None] * u)[:, None] + (h[:, None] * v)[:, :, None]
    over = (a[:, None] * u[:, None])[:, None] + (b[:, None] * v[:, None])[:, :, None]
    over += p0[:, None, None]
    over /= below[..., None]
    return np.asarray(over)


def _of_markers(offsets: Floats, turns: NDArray[np.int_]) -> tuple[Floats, Floats]:
    """Return each marker's bleed in modules and its weight (N,), NaN where it tells none.

    ``offsets``, ``turns`` (N, 6, 5). What is left of turns beside the map: the corners of the
    square carry the outer sides' bleed and noise, so place and size of the marker are free.
    """
    seen = np.isfinite(offsets)
    line = np.arange(_MODULES - 1) - 2.0
    count, first = seen.sum(axis=(1, 2)), (seen * line).sum(axis=(1, 2))
    spread = count * (seen * line**2).sum(axis=(1, 2)) - first**2

    def left(values: Floats) -> Floats:
        total, with_line = values.sum(axis=(1, 2)), (values * line).sum(axis=(1, 2))
        slope = (count * with_line - first * total) / np.where(spread > 0, spread, np.inf)
        mean = (total - slope * first) / np.maximum(count, 1)
        rest = values - mean[:, None, None] - slope[:, None, None] * line
        return np.where(seen, rest, 0.0)

    signs = np.where(seen, turns, 0.0)
    of_turns = left(signs)
    weight = (of_turns**2).sum(axis=(1, 2))
    bleed = (left(np.where(seen, offsets, 0.0)) * of_turns).sum(axis=(1, 2))
    tells = (count >= _FEWEST_EDGES) & (np.abs(signs.sum(axis=(1, 2))) < count) & (weight >= 1.0)
    return np.where(tells, bleed / np.maximum(weight, 1.0), np.nan), np.where(tells, weight, np.nan)


def _robust_mean(values: Floats, weights: Floats) -> tuple[float, float]:
    """Return the weighted mean of what agrees, and its sd from the scatter between markers."""
    keep = np.ones(len(values), dtype=bool)
    mean = spread = 0.0
    for _ in range(5):
        mean = float(np.average(values[keep], weights=weights[keep]))
        off = np.abs(values - mean)
        spread = max(1e-3, 1.4826 * float(np.median(off[keep])))
        keep = off < 3 * spread
    return mean, spread / math.sqrt(float(keep.sum()))
