"""Strokes that rough wood takes in dabs only: which pieces belong together, and what they make."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.cv import pieces_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Singles = NDArray[np.float32]
    Bools = NDArray[np.bool_]

# `surface.WORK_MM_PER_PX`, which cannot be imported here: `surface` finds strokes itself.
_WORK_MM_PER_PX = 0.5
# Pieces so near (px of a millimetre) are looked at together, the nearest first, as other things
# may lie beside a mark; along the board and across it, for lines too.
_NEAR_PX = ((7, 7), (11, 11), (15, 15), (5, 41))
_SMALLEST_PX = 4
# A stroke 8 mm wide at 15 degrees to the grain runs along it for 30 mm.
_GRAIN_RUN_PX = 30
_EXTENT_PX = (45.0, 450.0)
# What lies along the rim is wear or the lens's halo.
_ON_RIM_SHARE = 0.4
# Black crayon adds at most so much yellow and red, of the light that it takes: of black crayon on
# 18 rendered faces nine tenths lie below, of the dark places of their own wood one in ten.
_GREY_YELLOW, _GREY_RED = 0.08, 0.10
# A loop: how far off its ellipse dabs may lie, how many do, in how many parts of the round, and
# the part of its radius within which it is open; and how many parts it may miss in a row, since an
# arch is no loop.
_RING_WIDE, _ON_RING, _RING_PARTS, _RING_ROUND, _RING_OPEN = 0.3, 0.85, 24, 0.6, 0.45
_RING_GAP = 4
# Parts of a ring's own radius where the wood in and around it is compared, and by how much (L).
_IN_AND_OUT, _LIGHTER_OUT = ((0.45, 0.75), (1.25, 1.7)), 6.0


def goes_grey(off: Singles) -> Bools:
    """Return where dark goes grey, as black crayon does; dark wood goes browner."""
    light = np.abs(off[..., 0])
    return np.asarray((off[..., 2] < _GREY_YELLOW * light) & (off[..., 1] < _GREY_RED * light))


def pieces_of(likely: Bools, strong: Bools, rim: Bools) -> Bools:
    """Return the pieces of likely pixels that hold a sure one and do not lie along the rim."""
    count, labels = cv2.connectedComponents(likely.astype(np.uint8), connectivity=8)
    area, sure_px, on_rim = (
        np.bincount(labels[where].ravel(), minlength=count)
        for where in (likely, strong & likely, rim & likely)
    )
    keep = (sure_px > 0) & (area >= _SMALLEST_PX) & (on_rim <= _ON_RIM_SHARE * area)
    keep[0] = False
    return np.asarray(keep[labels])


def without_grain(region: Bools) -> Bools:
    """Return a region less what runs along the grain for longer than a stroke that crosses it."""
    runs = cv2.morphologyEx(
        region.astype(np.uint8), cv2.MORPH_OPEN, np.ones((1, _GRAIN_RUN_PX), np.uint8)
    )
    return np.asarray(region & (runs == 0))


def groups_of(pieces: Bools) -> list[tuple[tuple[int, int], Bools]]:
    """Return groups of pieces that lie near each other: corner (x, y) and pixels of its box."""
    found: dict[tuple[int, ...], Bools] = {}
    for near_px in _NEAR_PX:
        joined = cv2.dilate(
            pieces.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, near_px)
        )
        labels, boxes = pieces_in(np.asarray(joined, np.uint8), connectivity=8)
        for index in range(1, len(boxes)):
            x, y, w, h, _ = (int(v) for v in boxes[index])
            region = (labels[y : y + h, x : x + w] == index) & pieces[y : y + h, x : x + w]
            rows, columns = np.nonzero(region)
            low, high = _EXTENT_PX
            if not low <= float(np.hypot(np.ptp(rows), np.ptp(columns))) <= high:
                continue
            top, left = int(rows.min()), int(columns.min())
            own = region[top : rows.max() + 1, left : columns.max() + 1]
            found.setdefault((x + left, y + top, *own.shape), own)
    return [((key[0], key[1]), own) for key, own in found.items()]


def thickness_px(region: Bools) -> float:
    """Return how thick the thicker places of a group of pieces are."""
    away = cv2.distanceTransform(np.pad(region, 1).astype(np.uint8), cv2.DIST_L2, 5)
    return 2.0 * float(np.percentile(away[away > 0], 90))


def is_ring(points: NDArray[np.float64], width_mm: float) -> bool:
    """Return whether points (N, 2) lie round an ellipse along the axes, most of the way round."""
    low, high = np.percentile(points, [1, 99], axis=0)
    # The middle of the stroke lies half its width inside its outer line.
    middle = 0.5 * (low + high)
    half = np.maximum(0.5 * (high - low - width_mm), 1.0)
    off = (points - middle) / half
    away = np.hypot(off[:, 0], off[:, 1])
    wide = max(_RING_WIDE, 0.8 * width_mm / float(half.min()))
    on = np.abs(away - 1.0) < wide
    turn = np.arctan2(off[:, 1], off[:, 0])
    bins = np.unique(np.floor((turn[on] + np.pi) / (2 * np.pi) * _RING_PARTS).astype(int))
    is_open = (away < _RING_OPEN).mean() < 1 - _ON_RING
    if not is_open or on.mean() <= _ON_RING or len(bins) < _RING_ROUND * _RING_PARTS:
        return False
    gaps = np.diff(np.append(bins, bins[0] + _RING_PARTS)) - 1
    return bool(gaps.max() <= _RING_GAP)


def holds_wood(
    lightness: Singles,
    on_wood: Bools,
    origin_mm: tuple[float, float],
    points: NDArray[np.float64],
    least_mm: float,
) -> bool:
    """Return whether a dark ring is large and the wood just inside it is as light as outside.

    The black ring of a loose knot holds the knot. Lightness and wood are those of a surface,
    the points (N, 2) lie in face mm as its origin does.
    """
    low, high = np.percentile(points, [1, 99], axis=0)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    if 2 * np.sqrt(np.prod(half)) < least_mm:
        return False
    reach = np.ceil(1.8 * half / _WORK_MM_PER_PX).astype(int)
    at = np.round((middle - origin_mm) / _WORK_MM_PER_PX).astype(int)
    top, left = max(at[1] - reach[1], 0), max(at[0] - reach[0], 0)
    part = np.s_[top : at[1] + reach[1], left : at[0] + reach[0]]
    light, wood = lightness[part], on_wood[part]
    y, x = np.indices(light.shape)
    away = np.hypot(
        (x + left - at[0]) * _WORK_MM_PER_PX / half[0],
        (y + top - at[1]) * _WORK_MM_PER_PX / half[1],
    )
    inside, outside = (wood & (low < away) & (away < high) for low, high in _IN_AND_OUT)
    if not inside.any() or not outside.any():
        return False
    return bool(np.median(light[outside]) - np.median(light[inside]) < _LIGHTER_OUT)
