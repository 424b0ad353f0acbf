"""Find bars in a picture: two long parallel edges, of which one may be seen badly."""

from __future__ import annotations

import math

import numpy as np

from scanner.geometry.lines import Line, fit_line_robustly
from scanner.vision.cv import Bytes, Floats, sampled, segments_in, shrunk

MOST_LINES = 120
MOST_BARS = 40


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
        line, _ = fit_line_robustly(points, 1.0)
        used[seed] = True
        if line.direction @ directions[seed] < 0:
            line = Line(line.point, -line.direction)
        used |= near & (np.abs(line.distances(middles)) < 1.5)
        reach = line.along(points)
        ends = line.point + np.outer([reach.min(), reach.max()], line.direction)
        lines.append((ends[0], ends[1], float(lengths[near].sum())))
    lines.sort(key=lambda one: -one[2])
    return lines[:MOST_LINES]


def bars_in(grey: Bytes, aspect: float) -> list[tuple[Floats, Floats, float]]:
    """Return middle lines (start, stop) and widths of bars, the clearest first, work px.

    Each long line is taken as one edge; the other one is where the mean profile across it steps
    back, on either side. So one well seen edge is enough.
    """
    found = []
    # Once more at half size: where graduations break the edge, a coarser look joins it.
    half = shrunk(grey, 2)
    coarse = [(2 * a + 0.5, 2 * b + 0.5, 2 * seen) for a, b, seen in _long_lines(half)]
    for start, stop, seen in _long_lines(grey) + coarse:
        step = stop - start
        length = float(np.linalg.norm(step))
        direction = step / length
        normal = np.array([-direction[1], direction[0]])
        most = min(length * 3.0 / aspect, 0.12 * max(grey.shape))
        reach = np.arange(-most - 6, most + 6.01, 1.0)
        share = np.linspace(0.05, 0.95, 96)
        points = start + share[:, None, None] * step + reach[None, :, None] * normal
        # The median over pieces: a knot or a leaf beside the line is not an edge.
        profile = sampled(grey, points).reshape(12, 8, -1).mean(axis=1)
        rise = np.median(np.gradient(profile, axis=1), axis=0)
        own = rise[np.abs(reach) < 2.0]
        sign = np.sign(own[np.argmax(np.abs(own))])
        back = np.maximum(0.0, -sign * rise)
        for side in (-1.0, 1.0):
            away = side * reach
            near = (away > max(2.5, length * 0.3 / aspect)) & (away < most)
            if not near.any():
                continue
            peak = int(np.argmax(np.where(near, back, 0.0)))
            if not near[peak] or back[peak] < 0.4:
                continue
            wide = float(away[peak])
            middle = normal * side * wide / 2
            clear = min(float(np.abs(own).max()), float(back[peak]))
            found.append((start + middle, stop + middle, wide, clear * seen))
    found.sort(key=lambda one: -one[3])
    return _distinct(found)[:MOST_BARS]


def _distinct(
    bars: list[tuple[Floats, Floats, float, float]],
) -> list[tuple[Floats, Floats, float]]:
    """Return bars without repetitions: the same middle line and about the same width."""
    kept: list[tuple[Floats, Floats, float]] = []
    for start, stop, wide, _ in bars:
        again = False
        for other_start, other_stop, other_wide in kept:
            step = other_stop - other_start
            normal = np.array([-step[1], step[0]]) / np.linalg.norm(step)
            away = max(abs((start - other_start) @ normal), abs((stop - other_start) @ normal))
            if away < 0.3 * wide and 0.75 < wide / other_wide < 1.33:
                again = True
                break
        if not again:
            kept.append((start, stop, wide))
    return kept
