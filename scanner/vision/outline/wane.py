"""Wane beside a traced arris: where the arris leaves the line that the saw cut."""

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.geometry.polygons import polygon_of

Doubles = NDArray[np.float64]

# A sawn edge wanders by a millimetre or two over its length; wane goes further in.
_LEAST_DEPTH_MM = 3.5
_LEAST_LENGTH_MM = 25.0
_SAWN_WANDER_MM = 2.0


def sawn_line(edge: Doubles, outward: int) -> Doubles:
    """Return y of the sawn edge at each point of a traced arris: a bowed line past any wane.

    Parameters
    ----------
    edge
        (N, 2) traced points, x rising, mm.
    outward
        -1 where the board lies below the edge (upper side), +1 where it lies above.
    """
    x = (edge[:, 0] - edge[:, 0].mean()) / max(float(np.ptp(edge[:, 0])) / 2, 1.0)
    out = outward * edge[:, 1]
    design = np.column_stack([np.ones_like(x), x, x * x])
    # Start at the outer envelope: wane only ever takes wood away.
    keep = out >= np.percentile(out, 50)
    fit = np.linalg.lstsq(design[keep], out[keep], rcond=None)[0]
    for _ in range(8):
        off = out - design @ fit
        keep = off > -_SAWN_WANDER_MM
        if keep.sum() < 0.2 * len(x):
            break
        # Few points at one end must not bend the line: fewer freedoms for a short sawn stretch.
        freedoms = 3 if np.ptp(x[keep]) > 1.4 else 2
        fit = np.zeros(3)
        fit[:freedoms] = np.linalg.lstsq(design[keep][:, :freedoms], out[keep], rcond=None)[0]
    return np.asarray(outward * (design @ fit), dtype=np.float64)


def wane_beside(edge: Doubles, outward: int) -> tuple[Polygon, ...]:
    """Return the areas between a traced arris and the line that the saw cut."""
    line = sawn_line(edge, outward)
    depth = outward * (line - edge[:, 1])
    deep = depth > _LEAST_DEPTH_MM
    found = []
    # Out to where the arris meets the sawn line again; two deep stretches may so be one.
    spans = {_widened(depth, run) for run in _runs(deep)}
    for first, last in sorted(spans):
        if edge[last, 0] - edge[first, 0] < _LEAST_LENGTH_MM:
            continue
        part = slice(first, last + 1)
        inner = edge[part]
        outer = np.column_stack([edge[part, 0], line[part]])
        shape = polygon_of(np.vstack([inner, outer[::-1]]))
        if not shape.is_empty and shape.area > 40.0:
            found.append(shape)
    return tuple(found)


def _widened(depth: Doubles, run: tuple[int, int]) -> tuple[int, int]:
    """Return the run with all points beside it that lie over 1 mm inside the sawn line."""
    first, last = run
    while first > 0 and depth[first - 1] > 1.0:
        first -= 1
    while last < len(depth) - 1 and depth[last + 1] > 1.0:
        last += 1
    return first, last


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and last index of each unbroken run of True; short gaps are bridged."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    runs = [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    joined: list[tuple[int, int]] = []
    for run in runs:
        if joined and run[0] - joined[-1][1] <= 4:
            joined[-1] = (joined[-1][0], run[1])
        else:
            joined.append(run)
    return joined
