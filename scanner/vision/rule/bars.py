"""Find bars in a picture: two long parallel edges, of which one may be seen badly."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.lines import Line, fit_line_robustly
from scanner.vision.cv import Bytes, Floats, sampled, sampled_grid, segments_in, shrunk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

MOST_LINES = 120
# Lines that are paired; how far from parallel, how unlike in distance at both ends, and how much
# they must lie beside each other.
_MOST_PAIRED, _MOST_TAPER_DEG, _MOST_TAPER, _LEAST_SHARED = 60, 12.0, 1.8, 0.6
# No rule is wider than this share of the picture.
_WIDEST_SHARE = 0.25
# Grey levels a px by which the mean profile must step back at the other edge; a second place counts
# from this share of the strongest on, this share of the width away.
_LEAST_STEP, _SECOND_STEP, _APART_SHARE = 0.4, 0.5, 0.2
MOST_BARS = 60


def _long_lines(grey: Bytes) -> list[tuple[Floats, Floats, float]]:
    """Return long straight edges: start, stop (2,), and the length that is really seen.

    All segments run with the dark side on the same hand, so that the two edges of a bar run
    against each other.
    """
    segments = segments_in(grey)
    steps = segments[:, 2:] - segments[:, :2]
    lengths = np.linalg.norm(steps, axis=1)
    segments, steps, lengths = segments[lengths > 10], steps[lengths > 10], lengths[lengths > 10]
    order = np.argsort(-lengths)[:1500]
    segments, lengths = segments[order], lengths[order]
    directions = steps[order] / lengths[:, None]
    used = np.zeros(len(segments), dtype=bool)
    lines = []
    for seed in range(min(len(segments), 700)):
        if used[seed]:
            continue
        normal = np.array([-directions[seed, 1], directions[seed, 0]])
        start = segments[seed, :2]
        middles = (segments[:, :2] + segments[:, 2:]) / 2
        away = np.abs((middles - start) @ normal)
        along = np.abs((middles - start) @ directions[seed])
        # A lens bends a long edge, and a short seed points a little aside.
        near = away < 1.5 + 0.006 * along
        near &= directions @ directions[seed] > math.cos(math.radians(3))
        points = segments[near].reshape(-1, 2)
        if len(points) > 2:
            line, _ = fit_line_robustly(points, 1.0)
        else:
            line = Line(start, directions[seed])
        used[seed] = True
        if line.direction @ directions[seed] < 0:
            line = Line(line.point, -line.direction)
        used |= near & (np.abs(line.distances(middles)) < 1.5)
        reach = line.along(points)
        ends = line.point + np.outer([reach.min(), reach.max()], line.direction)
        lines.append((ends[0], ends[1], float(lengths[near].sum())))
    lines.sort(key=lambda one: -one[2])
    return lines[:MOST_LINES]


def bars_in(grey: Bytes, aspect: float) -> Iterator[list[tuple[Floats, Floats, float]]]:
    """Yield middle lines (start, stop) and widths of bars, the clearest first, work px.

    First what shows at half size, which is quick and joins edges that graduations break; then,
    where that was not enough, what shows at full size too.
    """
    coarse = [(2 * a + 0.5, 2 * b + 0.5, 2 * seen) for a, b, seen in _long_lines(shrunk(grey, 2))]
    yield _bars_along(grey, coarse, aspect)
    yield _bars_along(grey, _long_lines(grey) + coarse, aspect)


def _bars_along(
    grey: Bytes, lines: list[tuple[Floats, Floats, float]], aspect: float
) -> list[tuple[Floats, Floats, float]]:
    """Return the bars of which long lines are edges.

    Each line is taken as one edge; the other one is where the mean profile across it steps back,
    on either side. So one well seen edge is enough.
    """
    found = []
    for start, stop, seen in lines:
        step = stop - start
        length = float(np.linalg.norm(step))
        direction = step / length
        normal = np.array([-direction[1], direction[0]])
        most = min(length * 3.0 / aspect, _WIDEST_SHARE * max(grey.shape))
        reach = np.arange(-most - 6, most + 6.01, 1.0)
        share = np.linspace(0.05, 0.95, 96)
        x, y = (
            np.add.outer(start[axis] + share * step[axis], reach * normal[axis]) for axis in (0, 1)
        )
        # The median over pieces: a knot or a leaf beside the line is not an edge.
        profile = sampled_grid(grey, x, y).reshape(12, 8, -1).mean(axis=1)
        rise = _median_rise(profile)
        own = rise[np.abs(reach) < 2.0]
        sign = np.sign(own[np.argmax(np.abs(own))])
        back = np.maximum(0.0, -sign * rise)
        for side in (-1.0, 1.0):
            away = side * reach
            near = (away > max(2.5, length * 0.3 / aspect)) & (away < most)
            if not near.any():
                continue
            for peak in _peaks(np.where(near, back, 0.0)):
                wide = float(away[peak])
                middle = normal * side * wide / 2
                clear = min(float(np.abs(own).max()), float(back[peak]))
                found.append((start + middle, stop + middle, wide, clear * seen))
    found += _pairs(grey, lines, aspect)
    found.sort(key=lambda one: -one[3])
    return _distinct(found)


def _median_rise(profiles: NDArray[np.float32]) -> Floats:
    """Return the median over an even number of profiles (rows) of how they rise, a step.

    As `numpy.median` of `numpy.gradient`, of which most of the time is their preparation.
    """
    rises = np.empty_like(profiles)
    rises[:, 1:-1] = (profiles[:, 2:] - profiles[:, :-2]) / 2
    rises[:, 0] = profiles[:, 1] - profiles[:, 0]
    rises[:, -1] = profiles[:, -1] - profiles[:, -2]
    rises.sort(axis=0)
    middle = len(rises) // 2
    return np.asarray((rises[middle - 1] + rises[middle]) / 2, dtype=np.float64)


def _pairs(
    grey: Bytes, lines: list[tuple[Floats, Floats, float]], aspect: float
) -> list[tuple[Floats, Floats, float, float]]:
    """Return bars between two long lines that run against each other.

    Seen from near by and aslant a rule tapers, and no mean profile shows its other edge.
    """
    found = []
    # One line is paired with many: what it shows across itself is measured once, when first asked.
    contrast = cache(lambda index: _contrast(grey, *lines[index][:2]))
    paired = lines[:_MOST_PAIRED]
    steps = np.array([last - first for first, last, _ in paired]).reshape(-1, 2)
    steps /= np.linalg.norm(steps, axis=1, keepdims=True)
    against = steps @ -steps.T >= math.cos(math.radians(_MOST_TAPER_DEG))
    for index, (first, last, seen) in enumerate(paired):
        step = steps[index]
        for other in index + 1 + np.flatnonzero(against[index, index + 1 :]):
            other_last, other_first, other_seen = lines[other]
            low = max(0.0, float((other_first - first) @ step))
            high = min(float((last - first) @ step), float((other_last - first) @ step))
            if high - low < _LEAST_SHARED * min(
                np.linalg.norm(last - first), np.linalg.norm(other_last - other_first)
            ):
                continue
            start, stop = (first + other_first) / 2, (last + other_last) / 2
            length = float(np.linalg.norm(stop - start))
            normal = np.array([-step[1], step[0]])
            gaps = np.abs([(other_first - first) @ normal, (other_last - last) @ normal])
            wide = float(gaps.mean())
            if not length * 0.3 / aspect < wide < length * 3.0 / aspect:
                continue
            if gaps.max() > _MOST_TAPER * gaps.min() or wide > _WIDEST_SHARE * max(grey.shape):
                continue
            clear = min(contrast(index), contrast(other))
            found.append((start, stop, wide, clear * min(seen, other_seen)))
    return found


def _contrast(grey: Bytes, first: Floats, last: Floats) -> float:
    """Return how much brightness changes across a line, grey levels a px."""
    step = last - first
    normal = np.array([-step[1], step[0]]) / np.linalg.norm(step)
    points = first + np.linspace(0.05, 0.95, 64)[:, None] * step
    across = sampled(grey, points + 1.5 * normal) - sampled(grey, points - 1.5 * normal)
    return float(np.abs(np.median(across))) / 3


def _peaks(back: Floats) -> list[int]:
    """Return where the profile steps back most: a bevel or a row of lines may lie before the edge.

    The strongest place, and one that is not much weaker well apart from it.
    """
    first = int(back.argmax())
    if back[first] < _LEAST_STEP:
        return []
    apart = np.abs(np.arange(len(back)) - first) > _APART_SHARE * abs(first - len(back) // 2)
    second = int(np.where(apart, back, 0.0).argmax())
    weaker = max(_LEAST_STEP, _SECOND_STEP * float(back[first]))
    return [first, second] if back[second] >= weaker else [first]


def _distinct(
    bars: list[tuple[Floats, Floats, float, float]],
) -> list[tuple[Floats, Floats, float]]:
    """Return the first bars without repetitions (the same middle line and about the same width)."""
    kept: list[tuple[Floats, Floats, float]] = []
    points, normals, widths = np.zeros((MOST_BARS, 2)), np.zeros((MOST_BARS, 2)), np.ones(MOST_BARS)
    for start, stop, wide, _ in bars:
        count = len(kept)
        ends = np.array([start, stop])
        away = np.abs(((ends[:, None] - points[:count]) * normals[:count]).sum(axis=2)).max(axis=0)
        share = wide / widths[:count]
        if ((away < 0.3 * wide) & (share > 0.75) & (share < 1.33)).any():
            continue
        step = stop - start
        points[count], widths[count] = start, wide
        normals[count] = np.array([-step[1], step[0]]) / np.linalg.norm(step)
        kept.append((start, stop, wide))
        if len(kept) == MOST_BARS:
            break
    return kept
