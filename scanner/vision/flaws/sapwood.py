"""Sapwood: the pale wood next to the bark, as a region with its own outline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.surface import WORK_MM_PER_PX, Singles, Surface
from scanner.vision.grain import masked_blur

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.flaws.surface import Bools

# Sap and heart are told apart on a coarse grid, smoothed along the grain: ring lines go.
_STEP = 4
_STRIP_PX = 64
_ALONG_MM, _ACROSS_MM = 30.0, 2.5
# Two kinds of wood: how much of the spread of brownness the division must explain, and by how
# much they must differ: log(red / blue), and lightness across the border.
_EXPLAINED = 0.72
_LEAST_BROWNER = 0.06
_LEAST_LIGHTER = 3.0
# Narrower or shorter pieces are streaks.
_NARROWEST_MM = 6.0
_SHORTEST_MM = 150.0
_BESIDE_MM = 10.0
_AT_EDGE_MM = 6.0


def find_sapwood(surface: Surface) -> tuple[Polygon, ...]:
    """Return where sapwood shows, face mm; nothing where the face is all of one kind.

    Sapwood is less brown and lighter than heartwood and lies along a long edge, where the bark
    was. Shade is less brown too (the sky lights it), but darker: that tells them apart.
    """
    brown = _brownness(surface)
    light = cv2.resize(surface.lab[..., 0], brown.shape[::-1], interpolation=cv2.INTER_AREA).astype(
        np.float32
    )
    wood = cv2.resize(
        surface.wood.astype(np.uint8), brown.shape[::-1], interpolation=cv2.INTER_NEAREST
    ).astype(bool)
    if wood.sum() < 200:
        return ()
    border = _two_kinds(brown[wood])
    if border is None:
        return ()
    px = WORK_MM_PER_PX * _STEP
    least = max(1, round(_NARROWEST_MM / px / 2))
    pale = ((brown < border) & wood).astype(np.uint8)
    pale = cv2.morphologyEx(pale, cv2.MORPH_OPEN, np.ones((2 * least, 2 * least), np.uint8))
    pale = cv2.morphologyEx(pale, cv2.MORPH_CLOSE, np.ones((3, 2 * round(30 / px) + 1), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(pale, connectivity=4)
    found = []
    for index in range(1, count):
        region = (labels == index) & wood
        if stats[index, cv2.CC_STAT_WIDTH] * px < _SHORTEST_MM:
            continue
        if _is_along_an_edge(region, wood, px) and _is_lighter(region, light, wood, px):
            found.append(_outline(surface, region))
    return tuple(shape for shape in found if not shape.is_empty)


def _brownness(surface: Surface) -> Singles:
    """Return log(red / blue) on the coarse grid, smoothed along the grain."""
    rows, columns = surface.wood.shape
    brown = np.empty((rows, columns), np.float32)
    # Strip by strip: a long face's colours take much memory.
    for top in range(0, rows, _STRIP_PX):
        strip = slice(top, top + _STRIP_PX)
        rgb = np.asarray(cv2.cvtColor(surface.lab[strip], cv2.COLOR_LAB2RGB), np.float32)
        np.log(np.maximum(rgb, np.float32(0.01), out=rgb), out=rgb)
        np.subtract(rgb[..., 0], rgb[..., 2], out=brown[strip])
    size = (max(8, columns // _STEP), max(8, rows // _STEP))
    small = np.asarray(cv2.resize(brown, size, interpolation=cv2.INTER_AREA), np.float32)
    share = cv2.resize(surface.wood.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    weight = np.asarray(share, dtype=np.float32)
    px = WORK_MM_PER_PX * _STEP
    # Slow changes of light along the board go; what differs across it stays.
    course = masked_blur(small, weight, 300 / px, 1e3 / px)
    smooth = masked_blur(small - course, weight, _ALONG_MM / px, _ACROSS_MM / px)
    return np.asarray(smooth, dtype=np.float32)


def _two_kinds(values: Singles) -> float | None:
    """Return the border between two kinds of wood, or None where there is one kind (Otsu 1979)."""
    low, high = np.percentile(values, [0.5, 99.5])
    if high - low < _LEAST_BROWNER:
        return None
    counts, edges = np.histogram(values, bins=128, range=(float(low), float(high)))
    middles = 0.5 * (edges[:-1] + edges[1:])
    below = np.cumsum(counts) / counts.sum()
    sums = np.cumsum(counts * middles) / counts.sum()
    total = sums[-1]
    between = (total * below - sums) ** 2 / np.maximum(below * (1 - below), 1e-9)
    best = int(np.argmax(between))
    spread = float((counts * (middles - total) ** 2).sum() / counts.sum())
    share = float(below[best])
    if not 0.04 < share < 0.96 or between[best] < _EXPLAINED * spread:
        return None
    apart = (total - sums[best]) / (1 - share) - sums[best] / share
    return float(edges[best + 1]) if apart > _LEAST_BROWNER else None


def _is_along_an_edge(region: Bools, wood: Bools, px: float) -> bool:
    """Return whether the region follows a long edge of the board for most of its own length."""
    reach = max(1, round(_AT_EDGE_MM / px))
    columns = np.flatnonzero(region.any(axis=0))
    upper, lower = 0, 0
    for column in columns:
        there = np.flatnonzero(wood[:, column])
        own = np.flatnonzero(region[:, column])
        upper += own[0] - there[0] <= reach
        lower += there[-1] - own[-1] <= reach
    return max(upper, lower) > 0.6 * len(columns)


def _is_lighter(region: Bools, light: Singles, wood: Bools, px: float) -> bool:
    """Return whether the wood just inside the region's border is lighter than that just outside."""
    reach = max(2, round(_BESIDE_MM / px))
    kernel = np.ones((2 * reach + 1, 1), np.uint8)
    own = region.astype(np.uint8)
    heart = (wood & ~region).astype(np.uint8)
    inner = region & (cv2.dilate(heart, kernel) > 0)
    outer = (cv2.dilate(own, kernel) > 0) & ~region & wood
    if inner.sum() < 10 or outer.sum() < 10:
        return False
    return float(np.median(light[inner]) - np.median(light[outer])) > _LEAST_LIGHTER


def _outline(surface: Surface, region: Bools) -> Polygon:
    rows, columns = surface.wood.shape
    large = cv2.resize(
        region.astype(np.uint8), (columns, rows), interpolation=cv2.INTER_NEAREST
    ).astype(bool)
    return surface.outline_of(large & surface.wood, smooth_mm=2.0)
