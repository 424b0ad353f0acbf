"""Find a plain rule: two long parallel edges, two ends, and graduations that can be counted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.geometry.lines import Line, fit_line_robustly
from scanner.vision.assemble import SeenRule
from scanner.vision.cv import Bytes, Floats, sampled, segments_in, shrunk
from scanner.vision.rule_band import Band, follow_band
from scanner.vision.ticks import BELIEVED, Ticks, read_ticks, tick_score, usual_rules_on

if TYPE_CHECKING:
    from scanner.vision.setup import Corners, RuleSize, Setup

# Edges are looked for at about this size: graduations closer than a pixel then do not break them.
WORK_SIDE_PX = 1800
USUAL_WIDTH_MM = 28.0
MOST_LINES = 120
MOST_BANDS = 40
EDGE_SD_PX = 0.35
END_SD_PX = 0.9
# Read to 0.1 px on rendered photos; the rest is what the lens model cannot say.
TICK_SD_PX = 0.4
POINTS_PER_EDGE = 12
# Bands whose graduations are read with care, the most promising first.
BANDS_READ = 4
# Score from which another rule's graduations disprove the told one (saw teeth reach 10).
DISPROVED = 12.0
# Share of a rule's long graduations that must be read one by one.
LEAST_TICKS = 0.8
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


def _bars(grey: Bytes, aspect: float) -> list[tuple[Floats, Floats, float]]:
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
    return _distinct(found)[:MOST_BANDS]


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


def _facing_right(start: Floats, stop: Floats) -> bool:
    """Return whether a rule runs left to right, or upwards where it stands more than it lies."""
    step = stop - start
    return bool(step[0] > 0 if abs(step[0]) >= abs(step[1]) else step[1] < 0)


def find_rules(
    name: str, grey: Bytes, setup: Setup, corners: Corners | None = None
) -> tuple[tuple[SeenRule, ...], ...]:
    """Return what may be the plain rule (and the second one) of a photo, the likeliest first.

    Even teeth and slats pass for graduations; whether a camera can have seen them so, the fit
    must tell.

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
        return ((first,),)
    bands = _bands(grey, size)
    scored = _scored(grey, bands, size)
    if not scored:
        likely = sorted(_bands(grey, size, any_size=True), key=lambda band: -band.length)
        _refuse_other_size(name, grey, likely[:BANDS_READ], size)
        raise PhotoError(f"No reference rule found in {name}, so there is no scale", MEND)
    if scored[0][2].has_tail:
        # Quarter inches of a short rule may pass for centimetres of a longer one with a tail.
        _refuse_other_size(name, grey, [scored[0][1]], size, scored[0][2].score)
    if setup.rule2 is None:
        return tuple((_seen(band, ticks, size),) for _, band, ticks in scored)
    best = scored[0]
    others = _scored(grey, bands, setup.rule2, 2)
    rest = [one for one in others if _apart(one[1], best[1])]
    if not rest:
        raise PhotoError(f"Only one rule found in {name}, two were announced", MEND)
    second = _seen(rest[0][1], rest[0][2], setup.rule2)
    return ((_seen(best[1], best[2], size), second),)


def _apart(first: Band, second: Band) -> bool:
    gap = first.centre(0.5) - second.centre(0.5)
    return float(np.linalg.norm(gap)) > 2 * max(first.width(0.5), second.width(0.5))


def _bands(grey: Bytes, size: RuleSize, *, any_size: bool = False) -> list[Band]:
    """Return bars of the picture whose shape could be the rule's, followed at full size."""
    factor = max(1, round(max(grey.shape) / WORK_SIDE_PX))
    small = shrunk(grey, factor) if factor > 1 else grey
    aspect = size.length_mm / (size.width_mm or USUAL_WIDTH_MM)
    bands: list[Band] = []
    for start, stop, wide in _bars(small, aspect):
        ends = (np.array([start, stop]) + 0.5) * factor - 0.5
        if not _facing_right(ends[0], ends[1]):
            ends = ends[::-1]
        found = follow_band(grey, ends[0], ends[1], wide * factor)
        bands += [band for band in found if any_size or _fits_shape(band, size)]
    return bands


def _fits_shape(band: Band, size: RuleSize) -> bool:
    """Return whether length over width can be the rule's, seen at up to 65 degrees."""
    seen = band.length / band.width(0.5)
    if size.width_mm is None:
        return size.length_mm / 70.0 < seen < 2.5 * size.length_mm / 12.0
    aspect = size.length_mm / size.width_mm
    return 0.42 * aspect < seen < 2.4 * aspect


def _scored(
    grey: Bytes, bands: list[Band], size: RuleSize, wanted: int = 1
) -> list[tuple[float, Band, Ticks]]:
    """Return the bands on which the rule's graduations show, the clearest first."""
    quick = sorted(bands, key=lambda band: -tick_score(grey, band, size.length_mm))
    out = []
    for band in quick[:BANDS_READ]:
        ticks = read_ticks(grey, band, size.length_mm)
        # Boards and gaps between them are bars too: only graduations tell a rule.
        enough = LEAST_TICKS * size.length_mm / ticks.step_mm
        if ticks.score < BELIEVED or len(np.unique(ticks.x_mm)) < enough:
            continue
        # Ends where graduations begin and end speak for themselves.
        out.append((ticks.score * (0.7 if ticks.has_tail else 1.0), band, ticks))
        if not ticks.has_tail and len(out) >= wanted:
            break
    out.sort(key=lambda one: -one[0])
    return out


def _refuse_other_size(
    name: str, grey: Bytes, bands: list[Band], size: RuleSize, beaten: float = DISPROVED
) -> None:
    """Refuse where graduations show that are another usual rule's."""
    for band in bands:
        others, score = usual_rules_on(grey, band)
        # Finer graduations of the rule that was told are no disproof.
        steps = (1.0, 5.0, 10.0, 25.4, *(25.4 / n for n in (2, 4, 8, 10, 16)))
        own = [size.length_mm / step for step in steps]
        if score < beaten or any(abs(n / one - 1) < 0.02 for _, n in others for one in own):
            continue
        fitting = " or ".join(f"{length:.0f} mm ({length / 25.4:.1f} in)" for length, _ in others)
        raise PhotoError(
            f"The graduations of the rule in {name} fit {fitting}, not the told "
            f"{size.length_mm:.0f} mm ({size.length_mm / 25.4:.1f} in)",
            "give the true length of the rule",
        )


def _seen(band: Band, ticks: Ticks, size: RuleSize, *, was_tapped: bool = False) -> SeenRule:
    """Return the rule's edges, ends and ticks as measured points."""
    width = size.width_mm or _width_from_ticks(band, ticks) or USUAL_WIDTH_MM
    points, signs, pixels, directions, sd = [], [], [], [], []
    use_ticks = ticks.score >= BELIEVED and len(ticks.pixels) >= 6
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
    if not (use_ticks and ticks.has_tail):
        # Where an end is was read as one line across: it holds for the middle, whichever way
        # perspective slants that line.
        for share, x, out in ((0.0, 0.0, -1.0), (1.0, size.length_mm, 1.0)):
            points.append((x, 0.0))
            signs.append((out, 0.0))
            pixels.append(band.centre(share))
            directions.append(band.along(share))
            sd.append(END_SD_PX)
    if use_ticks:
        read = zip(ticks.x_mm, ticks.heights, ticks.shares, ticks.pixels, strict=True)
        for x, height, share, pixel in read:
            points.append((float(x), float(height) * width))
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
        ticks=len(np.unique(ticks.x_mm)) if use_ticks else 0,
        was_tapped=was_tapped,
    )


def _width_from_ticks(band: Band, ticks: Ticks) -> float | None:
    """Return a guess of an unknown width from the scale along the middle (tilt left out)."""
    if ticks.score < BELIEVED:
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
    bands = follow_band(grey, start, stop, wide, fixed_ends=True)
    if not bands:
        raise PhotoError(
            f"No rule edges are seen between the tapped corners in {name}", "tap its corners again"
        )
    read = [(read_ticks(grey, band, size.length_mm), band) for band in bands]
    ticks, band = max(read, key=lambda one: one[0].score)
    if ticks.score < BELIEVED:
        _refuse_other_size(name, grey, [band], size)
    return _seen(band, ticks, size, was_tapped=True)
