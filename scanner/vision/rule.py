"""Find a plain rule: two long parallel edges, two ends, and graduations that can be counted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.geometry.lines import fit_line_robustly
from scanner.vision.assemble import SeenRule
from scanner.vision.cv import Bytes, Floats, segments_in, shrunk
from scanner.vision.rule_band import Band, follow_band
from scanner.vision.ticks import Ticks, read_ticks, rule_that_fits

if TYPE_CHECKING:
    from scanner.vision.setup import Corners, RuleSize, Setup

# Edges are looked for at about this size: graduations closer than a pixel then do not break them.
WORK_SIDE_PX = 1800
USUAL_WIDTH_MM = 28.0
MOST_LINES = 90
MOST_BANDS = 40
EDGE_SD_PX = 0.35
END_SD_PX = 0.9
TICK_SD_PX = 0.7
POINTS_PER_EDGE = 12
# Score of a tick pattern from which it is believed (noise alone stays below 4 in the tests).
TICKS_BELIEVED = 5.0
MEND = (
    "lay the rule flat beside the board, all of it in view and not farther than about 1 mm per "
    "pixel, and take the photo again, or tap its four corners"
)


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
    for seed in range(min(len(segments), 400)):
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
        used |= near & (away < 1.0)
        points = segments[near].reshape(-1, 2)
        line, _ = fit_line_robustly(points, 1.0)
        if line.direction @ directions[seed] < 0:
            continue
        reach = line.along(points)
        ends = line.point + np.outer([reach.min(), reach.max()], line.direction)
        lines.append((ends[0], ends[1], float(lengths[near].sum())))
    lines.sort(key=lambda one: -one[2])
    return lines[:MOST_LINES]


def _pairs(grey: Bytes, aspect: float) -> list[tuple[Floats, Floats, float]]:
    """Return middle lines (start, stop) and widths of bars, the most visible first, work px."""
    lines = _long_lines(grey)
    found = []
    for i, (a0, a1, seen_a) in enumerate(lines):
        step = a1 - a0
        length = float(np.linalg.norm(step))
        direction = step / length
        normal = np.array([-direction[1], direction[0]])
        for b0, b1, seen_b in lines[i + 1 :]:
            other = (b1 - b0) / np.linalg.norm(b1 - b0)
            if other @ direction > -math.cos(math.radians(4)):
                continue
            wide = float(((b0 + b1) / 2 - a0) @ normal)
            ends = np.sort([(b0 - a0) @ direction, (b1 - a0) @ direction])
            overlap = min(length, ends[1]) - max(0.0, ends[0])
            span = max(length, ends[1]) - min(0.0, ends[0])
            if abs(wide) < 3 or overlap < 0.3 * min(length, ends[1] - ends[0]):
                continue
            # The true length is not known yet; what is seen of it must not be much too short.
            if not 0.2 * aspect < span / abs(wide) < 4 * aspect:
                continue
            low, high = min(0.0, ends[0]), max(length, ends[1])
            middle = a0 + normal * wide / 2
            # The middle line runs half way between both, which may converge.
            tilt = (direction - other) / np.linalg.norm(direction - other)
            start = middle + tilt * low
            found.append((start, middle + tilt * high, abs(wide), seen_a + seen_b))
    found.sort(key=lambda one: -one[3])
    return [(start, stop, wide) for start, stop, wide, _ in found[:MOST_BANDS]]


def _facing_right(start: Floats, stop: Floats) -> bool:
    """Return whether a rule runs left to right, or upwards where it stands more than it lies."""
    step = stop - start
    return bool(step[0] > 0 if abs(step[0]) >= abs(step[1]) else step[1] < 0)


def find_rules(
    name: str, grey: Bytes, setup: Setup, corners: Corners | None = None
) -> tuple[SeenRule, ...]:
    """Return the plain rule of a photo, and the second one where the person spoke of two.

    Parameters
    ----------
    name
        Of the photo, for messages.
    grey
        Brightness, full size.
    corners
        Tapped corners of the first rule, round it from its zero end, or None: look for it.

    Raises
    ------
    PhotoError
        No rule, or graduations that disprove its size.
    """
    size = setup.rule
    if size is None:
        raise ValueError("find_rules needs the size of a rule in the setup")
    if corners is not None:
        first = _tapped(name, grey, size, np.array(corners, dtype=np.float64))
        return (first,)
    bands = _bands(grey, size)
    scored = _scored(grey, bands, size)
    if not scored:
        raise PhotoError(f"No reference rule found in {name}, so there is no scale", MEND)
    _refuse_other_size(name, scored[0][1], scored[0][2], size)
    out = [_seen(scored[0][1], scored[0][2], size)]
    if setup.rule2 is not None:
        rest = [one for one in _scored(grey, bands, setup.rule2) if _apart(one[1], scored[0][1])]
        if not rest:
            raise PhotoError(f"Only one rule found in {name}, two were announced", MEND)
        out.append(_seen(rest[0][1], rest[0][2], setup.rule2))
    return tuple(out)


def _apart(first: Band, second: Band) -> bool:
    gap = first.centre(0.5) - second.centre(0.5)
    return float(np.linalg.norm(gap)) > 2 * max(first.width(0.5), second.width(0.5))


def _bands(grey: Bytes, size: RuleSize) -> list[Band]:
    """Return bars of the picture whose shape could be the rule's, followed at full size."""
    factor = max(1, round(max(grey.shape) / WORK_SIDE_PX))
    small = shrunk(grey, factor) if factor > 1 else grey
    aspect = size.length_mm / (size.width_mm or USUAL_WIDTH_MM)
    bands: list[Band] = []
    for start, stop, wide in _pairs(small, aspect):
        ends = (np.array([start, stop]) + 0.5) * factor - 0.5
        if not _facing_right(ends[0], ends[1]):
            ends = ends[::-1]
        band = follow_band(grey, ends[0], ends[1], wide * factor)
        if band is None or not _fits_shape(band, size):
            continue
        if all(_apart(band, other) for other in bands):
            bands.append(band)
    return bands


def _fits_shape(band: Band, size: RuleSize) -> bool:
    """Return whether length over width can be the rule's, seen at up to 65 degrees."""
    seen = band.length / band.width(0.5)
    if size.width_mm is None:
        return size.length_mm / 70.0 < seen < 2.5 * size.length_mm / 12.0
    aspect = size.length_mm / size.width_mm
    return 0.42 * aspect < seen < 2.4 * aspect


def _scored(grey: Bytes, bands: list[Band], size: RuleSize) -> list[tuple[float, Band, Ticks]]:
    out = []
    for band in bands:
        ticks = read_ticks(grey, band, size.length_mm)
        # A bar without graduations is believed only if its edges are unbroken and its shape
        # right: boards and gaps between them are bars too.
        if ticks.best_score < TICKS_BELIEVED:
            continue
        out.append((ticks.best_score, band, ticks))
    out.sort(key=lambda one: -one[0])
    return out


def _refuse_other_size(name: str, band: Band, ticks: Ticks, size: RuleSize) -> None:
    if ticks.score >= TICKS_BELIEVED:
        return
    other = rule_that_fits(ticks)
    if other is not None and abs(other / size.length_mm - 1) > 0.01:
        raise PhotoError(
            f"The graduations of the rule in {name} are those of a rule of {other:.0f} mm "
            f"({other / 25.4:.1f} in), not of {size.length_mm:.0f} mm "
            f"({size.length_mm / 25.4:.1f} in)",
            "give the true length of the rule",
        )


def _seen(band: Band, ticks: Ticks, size: RuleSize, *, was_tapped: bool = False) -> SeenRule:
    """Return the rule's edges, ends and ticks as measured points."""
    width = size.width_mm or _width_from_ticks(band, ticks) or USUAL_WIDTH_MM
    points, signs, pixels, directions, sd = [], [], [], [], []
    use_ticks = ticks.score >= TICKS_BELIEVED and len(ticks.pixels) >= 6
    for side in (-1.0, 1.0):
        for share in np.linspace(0.02, 0.98, POINTS_PER_EDGE):
            pixel = band.edge(float(share), side)
            if pixel is None:
                continue
            points.append((ticks.x_of(float(share)), side * width / 2))
            signs.append((0.0, side))
            pixels.append(pixel)
            directions.append(band.up(float(share)))
            sd.append(EDGE_SD_PX)
        if use_ticks and ticks.has_tail:
            continue
        for share, x, out in ((0.0, 0.0, -1.0), (1.0, size.length_mm, 1.0)):
            points.append((x, side * 0.4 * width))
            signs.append((out, 0.0))
            pixels.append(band.centre(share) + side * 0.4 * band.width(share) * band.up(share))
            directions.append(band.along(share))
            sd.append(END_SD_PX)
    if use_ticks:
        for x, share, pixel in zip(ticks.x_mm, ticks.shares, ticks.pixels, strict=True):
            points.append((float(x), 0.0))
            signs.append((0.0, 0.0))
            pixels.append(pixel)
            directions.append(band.along(float(share)))
            sd.append(TICK_SD_PX)
    half = 0.5
    corners = np.array(
        [
            band.centre(share) + side * half * band.width(share) * band.up(share)
            for share, side in ((0.0, -1.0), (0.0, 1.0), (1.0, 1.0), (1.0, -1.0))
        ]
    )
    return SeenRule(
        points_mm=np.array(points),
        signs=np.array(signs),
        pixels=np.array(pixels),
        directions=np.array(directions),
        sd_px=np.array(sd),
        corners=corners,
        length_mm=size.length_mm,
        width_mm=width,
        ticks=len(ticks.pixels) if use_ticks else 0,
        was_tapped=was_tapped,
    )


def _width_from_ticks(band: Band, ticks: Ticks) -> float | None:
    """Return a guess of an unknown width from the scale along the middle (tilt left out)."""
    if ticks.score < TICKS_BELIEVED:
        return None
    step = ticks.x_of(0.52) - ticks.x_of(0.48)
    return float(band.width(0.5) * step / (0.04 * band.length))


def _tapped(name: str, grey: Bytes, size: RuleSize, corners: Floats) -> SeenRule:
    if corners.shape != (4, 2):
        raise PhotoError(f"{len(corners)} corners were tapped in {name}", "tap all four corners")
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    # Round the rule: the first side is either its zero end or a long edge.
    zero = (0, 1) if sides[0] < sides[1] else (0, 3)
    far = tuple(i for i in range(4) if i not in zero)
    start, stop = corners[list(zero)].mean(axis=0), corners[list(far)].mean(axis=0)
    wide = float(min(sides[0] + sides[2], sides[1] + sides[3]) / 2)
    band = follow_band(grey, start, stop, wide, fixed_ends=True)
    if band is None:
        raise PhotoError(
            f"No rule edges are seen between the tapped corners in {name}", "tap its corners again"
        )
    ticks = read_ticks(grey, band, size.length_mm)
    _refuse_other_size(name, band, ticks, size)
    return _seen(band, ticks, size, was_tapped=True)


