"""Typed covers for the few OpenCV calls whose return types are vague."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Iterable

    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
# remap refuses pictures with a side of 2^15 or more, also as the shape of its answer.
_MOST_COLUMNS = 16384


def grey_of(pixels: Bytes) -> Bytes:
    """Return brightness (H, W) of RGB pixels: JPEG halves the resolution of colour, not of it."""
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def shrunk(picture: Bytes, factor: float) -> Bytes:
    """Return a picture ``factor`` times smaller, by area."""
    height, width = picture.shape[:2]
    size = (max(1, int(width / factor)), max(1, int(height / factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def sampled(picture: NDArray[np.generic], points: Floats) -> NDArray[np.float32]:
    """Return bilinear samples of a one-channel picture at points (..., 2) px; edges repeat."""
    flat = np.asarray(points, dtype=np.float32).reshape(-1, 2)
    rows = max(1, -(-len(flat) // _MOST_COLUMNS))
    padded = np.zeros((rows * min(len(flat), _MOST_COLUMNS), 2), dtype=np.float32)
    padded[: len(flat)] = flat
    grid = padded.reshape(rows, -1, 2)
    values = cv2.remap(
        np.asarray(picture),
        np.ascontiguousarray(grid[..., 0]),
        np.ascontiguousarray(grid[..., 1]),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    out = np.asarray(values, dtype=np.float32).reshape(-1)[: len(flat)]
    return out.reshape(points.shape[:-1])


def sampled_grid(picture: NDArray[np.generic], x: Floats, y: Floats) -> NDArray[np.float32]:
    """Return bilinear samples at places x, y (H, W) px, at most 32766 either way; edges repeat."""
    values = cv2.remap(
        np.asarray(picture),
        x.astype(np.float32),
        y.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(values, dtype=np.float32)


def painted(
    shapes: Iterable[BaseGeometry],
    origin_mm: tuple[float, float],
    mm_per_px: float,
    size: tuple[int, ...],
) -> NDArray[np.bool_]:
    """Return (H, W) which pixels of a picture lie in polygons, holes filled.

    ``origin_mm``: where on the face its first pixel lies. ``size``: (H, W), more is passed over.
    """
    canvas = np.zeros(size[:2], dtype=np.uint8)
    for shape in shapes:
        for polygon in getattr(shape, "geoms", (shape,)):
            if not polygon.is_empty:
                ring = (np.asarray(polygon.exterior.coords) - np.asarray(origin_mm)) / mm_per_px
                cv2.fillPoly(canvas, [np.round(ring).astype(np.int32)], 1)
    return canvas.astype(bool)


# Up to this share of a map its pieces' boxes are quicker formed from their pixels alone.
_SPARSE = 1 / 16


def pieces_in(
    where: NDArray[np.uint8], connectivity: int
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Return the connected pieces of a mask (H, W): labels, 0 where there is none, and boxes.

    Boxes (N, 5) are x, y, width, height, area by label, as OpenCV's ``stats`` but the first row,
    which is 0: its own pass over a whole map takes most of the time where little is set.
    """
    if cv2.countNonZero(where) > _SPARSE * where.size:
        _, every, stats, _ = cv2.connectedComponentsWithStats(where, connectivity=connectivity)
        stats[0] = 0
        return np.asarray(every, dtype=np.int32), np.asarray(stats, dtype=np.int32)
    count, found = cv2.connectedComponents(where, connectivity=connectivity)
    labels = np.asarray(found, dtype=np.int32)
    boxes = np.zeros((count, 5), dtype=np.int32)
    if count == 1:
        return labels, boxes
    x, y = np.asarray(cv2.findNonZero(where), dtype=np.int32).reshape(-1, 2).T
    own = labels[y, x]
    # Row by row, so that of each piece the first pixel is an uppermost and the last a lowest one.
    order = np.argsort(own, kind="stable")
    x, y, area = x[order], y[order], np.bincount(own)[1:]
    ends = np.cumsum(area)
    starts = ends - area
    left, top = np.minimum.reduceat(x, starts), y[starts]
    right, bottom = np.maximum.reduceat(x, starts), y[ends - 1]
    boxes[1:] = np.column_stack([left, top, right - left + 1, bottom - top + 1, area])
    return labels, boxes


# Windows (first, last, step) of the local thresholds under which markers are looked for: to read
# all of them, to see where a strip lies, and to see whether one lies there.
_ALL_WINDOWS, _QUICK_WINDOWS, _ONE_WINDOW = (5, 45, 10), (5, 45, 20), (15, 15, 10)


@cache
def _detector(perimeter_rate: float, windows: tuple[int, int, int]) -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    # The library's 0.03 drops every marker under 30 px in a 12-megapixel photo, so that nothing
    # is found beyond about 1.2 mm/px.
    parameters.minMarkerPerimeterRate = perimeter_rate
    parameters.adaptiveThreshWinSizeMin = windows[0]
    parameters.adaptiveThreshWinSizeMax = windows[1]
    parameters.adaptiveThreshWinSizeStep = windows[2]
    parameters.minMarkerDistanceRate = 0.02
    parameters.minCornerDistanceRate = 0.02
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    return cv2.aruco.ArucoDetector(codes, parameters)


def markers_in(
    grey: Bytes, *, quick: bool = False, one_look: bool = False
) -> tuple[NDArray[np.int_], Floats]:
    """Return ids (N,) and corners (N, 4, 2) px of the markers in a picture, unrefined.

    ``quick`` tries fewer thresholds: enough to see where a strip lies, not to read all of it.
    ``one_look`` tries one: enough to see whether a strip lies there.
    """
    rate = round(40.0 / max(grey.shape), 5)
    windows = _ONE_WINDOW if one_look else _QUICK_WINDOWS if quick else _ALL_WINDOWS
    return _found_by(_detector(rate, windows), grey)


def _found_by(detector: cv2.aruco.ArucoDetector, grey: Bytes) -> tuple[NDArray[np.int_], Floats]:
    corners, ids, _ = detector.detectMarkers(grey)
    if ids is None or len(ids) == 0:
        return np.zeros(0, dtype=np.int_), np.zeros((0, 4, 2))
    found = np.array([np.asarray(one).reshape(4, 2) for one in corners], dtype=np.float64)
    return np.asarray(ids, dtype=np.int_).ravel(), found


@cache
def code_modules(marker: int) -> NDArray[np.bool_]:
    """Return which modules (6, 6) of a strip marker are white, its black border included."""
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    drawn = cv2.aruco.generateImageMarker(codes, marker, 6)
    return np.asarray(drawn > 127, dtype=np.bool_)


@cache
def _card_detector() -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.015
    parameters.adaptiveThreshWinSizeMin = 5
    parameters.adaptiveThreshWinSizeMax = 45
    parameters.adaptiveThreshWinSizeStep = 20
    # A thousand codes lie close together: no bit may be wrong, or grain would read as a card.
    parameters.errorCorrectionRate = 0.0
    parameters.maxErroneousBitsInBorderRate = 0.1
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    return cv2.aruco.ArucoDetector(codes, parameters)


def card_markers_in(grey: Bytes) -> tuple[NDArray[np.int_], Floats]:
    """Return ids (N,) and corners (N, 4, 2) px of the board cards' markers in a picture."""
    return _found_by(_card_detector(), grey)


def segments_in(grey: Bytes) -> Floats:
    """Return straight line segments (N, 4): x0, y0, x1, y1 px.

    References
    ----------
    R. Grompone von Gioi and others, "LSD: a line segment detector", IPOL 2 (2012).
    """
    lines = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(grey)[0]
    if lines is None:
        return np.zeros((0, 4))
    return np.asarray(lines, dtype=np.float64).reshape(-1, 4)
