"""Read markers on a pyramid of sizes, each at the size where it reads best."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.strip_layout import position_of
from scanner.vision.cv import Bytes, Floats, markers_in, shrunk
from scanner.vision.rule.marker_order import sides_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Sides below this cannot be read, above it a smaller picture reads them as well and faster.
LARGEST_SIDE_PX = 80.0
# So many markers of a strip show where its line lies.
_LINE = 4
# ... and so many that one look is enough to see it.
_PLAIN_LINE = 6
# First column and row, and the ones past the last.
Window = tuple[int, int, int, int]
# Ids (N,) of markers and their rough corners (N, 4, 2) px.
Look = tuple["NDArray[np.int_]", Floats]


def _in_window(
    grey: Bytes, window: Window, factor: int, *, quick: bool = False, one_look: bool = False
) -> Look:
    """Return markers in a window (x0, y0, x1, y1) of the picture, read at a smaller size."""
    x0, y0, x1, y1 = window
    # Whole multiples are made smaller in a fifth of the time.
    part = grey[y0 : y1 - (y1 - y0) % factor, x0 : x1 - (x1 - x0) % factor]
    if min(part.shape) < 40 * factor:
        return np.zeros(0, dtype=np.int_), np.zeros((0, 4, 2))
    small = shrunk(part, factor) if factor > 1 else np.ascontiguousarray(part)
    ids, corners = markers_in(small, quick=quick, one_look=one_look)
    # Area shrinking puts the centre of the first small pixel at (factor - 1) / 2.
    scale = np.array([part.shape[1] / small.shape[1], part.shape[0] / small.shape[0]])
    return ids, (corners + 0.5) * scale - 0.5 + np.array([x0, y0])


def _windows(corners: Floats, shape: tuple[int, ...]) -> list[Window]:
    """Return windows along the strip's whole line, two markers wide on each side of it.

    A strip that lies askew is covered by several small ones: a window costs by its area.
    """
    centres = corners.mean(axis=1)
    middle = centres.mean(axis=0)
    direction = np.linalg.svd(centres - middle, full_matrices=False)[2][0]
    reach = math.hypot(shape[0], shape[1])
    ends = middle + np.outer([-reach, reach], direction)
    size = np.array([shape[1], shape[0]])
    # Where the line leaves the picture, by clipping it step by step.
    points = np.linspace(ends[0], ends[1], 2000)
    points = points[((points >= 0) & (points < size)).all(axis=1)]
    points = np.concatenate([points, corners.reshape(-1, 2)])
    along = (points - middle) @ direction
    margin = 2.5 * float(sides_px(corners).max())

    def divided(count: int) -> list[Window]:
        piece = ((along - along.min()) / np.ptp(along) * count).astype(np.int_)
        out = []
        for number in range(count):
            inside = points[np.minimum(piece, count - 1) == number]
            if len(inside):
                low = np.maximum(inside.min(axis=0) - margin, 0).astype(int)
                high = np.minimum(inside.max(axis=0) + margin + 1, size).astype(int)
                out.append((int(low[0]), int(low[1]), int(high[0]), int(high[1])))
        return out

    return min((divided(count) for count in range(1, 7)), key=_area)


def _area(windows: list[Window]) -> int:
    return sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in windows)


@dataclass(frozen=True, slots=True, eq=False)
class ReadMarkers:
    """All that reads as a marker: ids (N,), rough corners (N, 4, 2) px, each id once.

    ``is_all`` False: only a part of the picture was looked at with care.
    """

    ids: NDArray[np.int_]
    corners: Floats
    is_all: bool


def look_once(grey: Bytes) -> Look:
    """Return what reads as markers at one look at half size."""
    whole = (0, 0, grey.shape[1], grey.shape[0])
    return _in_window(grey, whole, 2, quick=True, one_look=True)


def read_markers(
    grey: Bytes,
    *,
    everywhere: bool = False,
    at_a_glance: bool = False,
    first: Look | None = None,
) -> ReadMarkers:
    """Return everything that reads as a marker.

    Half size first (it gives the strip's line and the scale), then full size along that line;
    quarter size for markers that are too large at half size.

    Parameters
    ----------
    everywhere
        Look over the whole picture at each size: what looked like a strip was none.
    at_a_glance
        Try fewer thresholds. Where half size shows nothing, look with care only where one look at
        full size shows anything: a strip too far off for half size shows some markers to that.
    first
        What `look_once` showed, where that is known: a glance begins with it.
    """
    whole = (0, 0, grey.shape[1], grey.shape[0])
    if at_a_glance:
        found = [look_once(grey) if first is None else first]
    else:
        found = [_in_window(grey, whole, 2, quick=not everywhere)]
    of_strip = _of_strip(found[0][0])
    if at_a_glance and 0 < of_strip.sum() < _PLAIN_LINE:
        found = [_in_window(grey, whole, 2, quick=True)]
        of_strip = _of_strip(found[0][0])
    corners = found[0][1]
    has_line = not everywhere and int(of_strip.sum()) >= _LINE
    if has_line:
        side = float(np.median(sides_px(corners[of_strip])))
        if side > LARGEST_SIDE_PX:
            found.append(_in_window(grey, whole, 4))
        if side < 2 * LARGEST_SIDE_PX:
            windows = _windows(corners[of_strip], grey.shape)
            found += [_in_window(grey, window, 1, quick=at_a_glance) for window in windows]
    else:
        hasty = at_a_glance and of_strip.sum() == 0
        full = _in_window(grey, whole, 1, one_look=hasty)
        if hasty and _of_strip(full[0]).any():
            full = _in_window(grey, whole, 1)
        found.append(full)
        if everywhere or of_strip.sum() == 0:
            found.append(_in_window(grey, whole, 4, quick=hasty))
    # Corners from the largest size win; what is refined later starts nearer.
    all_ids = np.concatenate([one[0] for one in found[::-1]])
    all_corners = np.concatenate([one[1] for one in found[::-1]])
    return ReadMarkers(*_once(all_ids, all_corners), not has_line)


def _of_strip(ids: NDArray[np.int_]) -> NDArray[np.bool_]:
    return np.array([position_of(int(one)) is not None for one in ids], dtype=bool)


def _once(ids: NDArray[np.int_], corners: Floats) -> tuple[NDArray[np.int_], Floats]:
    """Return each marker once; an id seen at two places stays twice."""
    keep: list[int] = []
    sides = sides_px(corners)
    centres = corners.mean(axis=1)
    for row in range(len(ids)):
        same = [
            other
            for other in keep
            if ids[other] == ids[row]
            and np.linalg.norm(centres[other] - centres[row]) < max(sides[other], sides[row]) / 2
        ]
        if not same:
            keep.append(row)
    return ids[keep], corners[keep]
