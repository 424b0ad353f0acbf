"""Find bars in a picture: two long parallel edges, of which one may be seen badly."""

from __future__ import annotations

import math
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


def clearest_bars(grey: Bytes, aspect: float) -> list[tuple[Floats, Floats, float]]:
    """Return the bars that show in a small picture as it is, as `bars_in`."""
    return _bars_along(grey, _long_lines(grey), aspect)


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
    if len(lines) < 2:
        return []
    paired = lines[:_MOST_PAIRED]
    firsts, lasts = (np.array([one[end] for one in paired]) for end in (0, 1))
    seen = np.array([one[2] for one in paired])
    lengths = np.linalg.norm(lasts - firsts, axis=1)
    steps = (lasts - firsts) / lengths[:, None]
    against = steps @ -steps.T >= math.cos(math.radians(_MOST_TAPER_DEG))
    # Of each pair once: the earlier line, and the later one turned round to run with it.
    one, other = np.nonzero(np.triu(against, 1))
    ways, starts, stops = steps[one], firsts[one], lasts[one]
    start_2, stop_2 = lasts[other], firsts[other]
    low = np.maximum(0.0, ((start_2 - starts) * ways).sum(axis=1))
    high = np.minimum(lengths[one], ((stop_2 - starts) * ways).sum(axis=1))
    beside = high - low >= _LEAST_SHARED * np.minimum(lengths[one], lengths[other])
    middles = (starts + start_2) / 2, (stops + stop_2) / 2
    long = np.linalg.norm(middles[1] - middles[0], axis=1)
    normals = np.column_stack([-ways[:, 1], ways[:, 0]])
    gaps = np.abs([((start_2 - starts) * normals).sum(1), ((stop_2 - stops) * normals).sum(1)])
    wide = gaps.mean(axis=0)
    alike = gaps.max(axis=0) <= _MOST_TAPER * gaps.min(axis=0)
    slender = (long * 0.3 / aspect < wide) & (wide < long * 3.0 / aspect)
    good = beside & slender & alike & (wide <= _WIDEST_SHARE * max(grey.shape))
    if not good.any():
        return []
    contrast = _contrasts(grey, firsts, lasts)
    clear = np.minimum(contrast[one], contrast[other]) * np.minimum(seen[one], seen[other])
    return [
        (middles[0][pair], middles[1][pair], float(wide[pair]), float(clear[pair]))
        for pair in np.flatnonzero(good)
    ]


def _contrasts(grey: Bytes, firsts: Floats, lasts: Floats) -> Floats:
    """Return how much brightness changes across each line (N, 2) to (N, 2), grey levels a px."""
    steps = lasts - firsts
    normals = np.column_stack([-steps[:, 1], steps[:, 0]])
    normals /= np.linalg.norm(steps, axis=1, keepdims=True)
    points = firsts[:, None] + np.linspace(0.05, 0.95, 64)[:, None] * steps[:, None]
    beside = 1.5 * normals[:, None]
    across = sampled(grey, points + beside) - sampled(grey, points - beside)
    return np.asarray(np.abs(np.median(across, axis=1)) / 3, dtype=np.float64)


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
