"""How far a crack that starts at an end runs: its line is followed beyond where it is plainly seen.

A crack's tip is thinner than a pixel. What it darkens can still be summed along its line, and how
its opening falls towards the tip tells where that is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.share_tip import tip_by_share
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Singles, Surface

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.flaws.learned_regions import Region

# Lines are followed in steps along the board; evidence is summed over blocks of steps.
_STEP_PX = 2
_BLOCK = 5
# What a crack darkens is summed over this height, and the wood beside it is measured beyond.
_HALF_PX = 2
_BESIDE_PX = (4, 9)
# Followed so far beyond the plainly seen part, at the most.
_BEYOND_MM = 260.0
# The line may leave the course of the plainly seen part by this, and more further on.
_OFF_PX, _OFF_SHARE = 4.0, 0.05
_COURSE_MM = 50.0
# The gain of a path that there is not.
_NOWHERE = -1e9
# The same search on the wood beside the crack tells what it finds where no crack is.
_BESIDE_LINES_MM = (-24.0, -19.0, -14.0, -9.0, 9.0, 14.0, 19.0, 24.0)
# A crack opens like a wedge (1) or, near a sharp tip, like a parabola (1/2; M. L. Williams 1957,
# "On the stress distribution at the base of a stationary crack").
_POWERS = (0.5, 0.75, 1.0)
# A piece of the same crack, and how far from the last it may begin.
_PIECE_SHARE, _GAP_MM = 0.3, 25.0
# Of 58 end checks on rendered faces (seeds 3100-3111, the sample pictures) 95 % lie within
# intervals so much wider than the fit alone says: it takes the wood for more even than it is.
_WIDER = 2.1
# Of 122 end cracks on 80 rendered faces (seeds 8000-8039) nine in ten tips told by share lie at
# most so far nearer, and so far further (or past where even a faint share ends); with what darkness
# says of its own interval it is 95 %.
_NEARER_MM, _FURTHER_MM = 25.0, 22.0
_PAST_FAINT_MM = 15.0
# How far beyond what is plainly seen tips lie, and how far short of it, on average.
_UNSEEN_MM, _OVERSEEN_MM = 30.0, 6.0
# Where the tip may lie so much further the words say so.
_MAY_RUN_ON_MM = 15.0


@dataclass(frozen=True, slots=True)
class Reach:
    """Where a crack's tip is.

    Attributes
    ----------
    tip_mm
        Distance from the end along the board, mm: as likely further as nearer.
    low_mm, high_mm
        95 % interval of it.
    path
        (N, 2) of the line from the end to the tip, working px (x, y).
    """

    tip_mm: float
    low_mm: float
    high_mm: float
    path: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """A crack's line in steps from its end on.

    Attributes
    ----------
    at_px, rows
        (steps,) columns from the end on (of the turned picture where ``turned``) and rows.
    dark_mm
        (n, steps) darkness along the line (the first) and along lines beside it, mm of black.
    share
        (steps,) the network's greatest share of a check within a millimetre of the line.
    seen_px
        The column to which the crack is plainly seen.
    turned
        Whether it starts at the right end.
    """

    at_px: NDArray[np.int_]
    rows: NDArray[np.float64]
    dark_mm: NDArray[np.float64]
    share: NDArray[np.float32]
    seen_px: int
    turned: bool


def darkness_across(light: Singles) -> Singles:
    """Return (H, W) by how much a thin line at each pixel would be darker than what lies beside it.

    As the width of a black line in mm: the share of light that is missing, summed across.
    """
    near = cv2.boxFilter(light, cv2.CV_32F, (1, 2 * _HALF_PX + 1))
    low, high = _BESIDE_PX
    tall = high - low + 1
    beside = cv2.boxFilter(light, cv2.CV_32F, (1, tall))
    shift = (low + high) // 2
    above, below = np.roll(beside, shift, axis=0), np.roll(beside, -shift, axis=0)
    flank = 0.5 * (above + below)
    missing = (flank - near) / np.maximum(flank, 0.02)
    return np.asarray(missing * ((2 * _HALF_PX + 1) * WORK_MM_PER_PX), dtype=np.float32)


def line_maps(surface: Surface) -> tuple[Singles, float]:
    """Return `darkness_across` of a face, and its own middle deviation there (mm of black line)."""
    light = (((surface.lab[..., 0] + 16.0) / 116.0) ** 3).astype(np.float32)
    dark = darkness_across(light)
    inner = cv2.erode(surface.wood.astype(np.uint8), np.ones((15, 15), np.uint8)) > 0
    values = dark[inner] if inner.any() else dark
    spread = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    return dark, max(spread, 1e-3)


def reach_of(
    region: Region,
    surface: Surface,
    maps: tuple[Singles, float],
    share: Singles,
    at_end: str,
) -> Reach:
    """Return how far a crack that starts at an end runs.

    Parameters
    ----------
    region
        Where it is plainly seen.
    surface
        The face.
    maps
        Of `line_maps`.
    share
        (H, W) how surely the network sees a check, 0 to 1: pieces on the same line are one crack.
    at_end
        ``left`` or ``right``: the end of the picture that it starts at.
    """
    line = follow(region, surface, maps, share, at_end)
    is_seen = line.at_px <= line.seen_px
    seen_mm = (line.seen_px - line.at_px[0]) * WORK_MM_PER_PX
    tip, low, high = _tip(line.dark_mm, is_seen, float(seen_mm))
    by_share = tip_by_share(line.share, _STEP_PX * WORK_MM_PER_PX)
    if by_share is not None:
        tip, nearest, far = by_share
        low = min(low, max(nearest - _NEARER_MM, 0.0))
        high = max(high, tip + _FURTHER_MM, far + _PAST_FAINT_MM)
    count = max(2, int(np.ceil(tip / (WORK_MM_PER_PX * _STEP_PX))))
    x = line.at_px[:count].astype(np.float64)
    columns = surface.wood.shape[1]
    path = np.column_stack([columns - 1 - x if line.turned else x, line.rows[:count]])
    return Reach(tip, low, high, path)


def run_words(reach: Reach, told_mm: float) -> str:
    """Return in words how far a crack runs, to follow what it is.

    A figure that is less sure than it is large would only mislead.

    Parameters
    ----------
    reach
        Where the tip is.
    told_mm
        The reach that is told: no less than the crack's outline shows.
    """
    off = max(reach.high_mm - told_mm, told_mm - reach.low_mm)
    if round(off) > round(told_mm):
        return ", how far it runs is not known"
    words = f", reaches {told_mm:.0f} mm (give or take {off:.0f})"
    return f"{words}, may run further" if reach.high_mm - told_mm > _MAY_RUN_ON_MM else words


def follow(
    region: Region,
    surface: Surface,
    maps: tuple[Singles, float],
    share: Singles,
    at_end: str,
) -> Followed:
    """Return the line of a crack from its end on, as far as it may run (see `reach_of`)."""
    dark, spread = maps
    wood = surface.wood
    columns = wood.shape[1]
    turned = at_end == "right"
    if turned:
        dark, wood, share = dark[:, ::-1], wood[:, ::-1], share[:, ::-1]
    first, last, rows = _seen_course(region, columns, turned)
    row = min(max(round(float(rows[0])), 0), wood.shape[0] - 1)
    there = np.flatnonzero(wood[row])
    start = int(there[0]) if len(there) else first
    stop = min(last + round(_BEYOND_MM / WORK_MM_PER_PX), int(there[-1]) if len(there) else last)
    course, room = _course(start, first, last, stop, rows)
    lines = [course]
    for off in _BESIDE_LINES_MM:
        beside = course + off / WORK_MM_PER_PX
        if beside.min() > 8 and beside.max() < wood.shape[0] - 9:
            lines.append(beside)
    paths, values = _followed(dark / np.float32(spread), np.array(lines), start, room)
    at_px = start + _STEP_PX * np.arange(len(course))
    at_px = np.clip(at_px, 0, columns - 1)
    rows_px = paths[0].round().astype(int)
    near = np.max(
        [share[np.clip(rows_px + k, 0, len(share) - 1), at_px] for k in (-2, -1, 0, 1, 2)], 0
    )
    last = _seen_to(near, at_px, last)
    return Followed(at_px, paths[0], values * spread, near, last, turned)


def _seen_to(near: NDArray[np.float32], at_px: NDArray[np.int_], last: int) -> int:
    """Return the column to which a crack is seen, pieces further along its line included."""
    for column in at_px[(near > _PIECE_SHARE) & (at_px > last)]:
        if (column - last) * WORK_MM_PER_PX > _GAP_MM:
            break
        last = int(column)
    return last


def _seen_course(
    region: Region, columns: int, turned: bool
) -> tuple[int, int, NDArray[np.float64]]:
    """Return first and last column of what is plainly seen, and its middle row by column."""
    pixels = region.pixels[:, ::-1] if turned else region.pixels
    left = columns - region.column - pixels.shape[1] if turned else region.column
    x = np.arange(pixels.shape[1])
    have = pixels.any(axis=0)
    height = np.arange(pixels.shape[0])[:, None]
    middle = (pixels * height).sum(axis=0) / np.maximum(pixels.sum(axis=0), 1)
    rows = np.interp(x, x[have], middle[have]) + region.row
    return left, left + pixels.shape[1] - 1, rows


def _course(
    start: int, first: int, last: int, stop: int, rows: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the expected row at each step from the end on, and how far the line may lie off."""
    at = np.arange(start, max(stop, start + 20 * _STEP_PX), _STEP_PX)
    x = np.arange(first, last + 1)
    tail = x >= last - _COURSE_MM / WORK_MM_PER_PX
    slope = 0.0
    if tail.sum() > 20:
        slope = float(np.clip(np.polyfit(x[tail], rows[tail], 1)[0], -0.15, 0.15))
    end_row = float(np.median(rows[-8:]))
    beyond = np.maximum(at - last, 0)
    course = np.interp(at, x, rows)
    # A slope seen over 50 mm says less and less of where the line is further on.
    carried = slope * 80.0 * (1.0 - np.exp(-beyond / 80.0))
    course = np.where(at > last, end_row + carried, course)
    room = np.where(at > last, _OFF_PX + _OFF_SHARE * beyond, 2.0)
    return course, room


def _followed(
    units: Singles, lines: NDArray[np.float64], start: int, room: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the darkest unbroken path near each line (n, steps): its rows and its darkness."""
    widest = int(np.ceil(room.max()))
    offs = np.arange(-widest, widest + 1)
    steps = lines.shape[1]
    middle = np.round(lines).astype(int)
    smooth = cv2.blur(units, (_STEP_PX + 1, 1))
    columns = np.clip(start + _STEP_PX * np.arange(steps), 0, units.shape[1] - 1)
    rows = np.clip(middle[:, :, None] + offs, 0, units.shape[0] - 1)
    gain = smooth[rows, columns[None, :, None]].astype(np.float64)
    gain[:, np.abs(offs)[None] > room[:, None]] = -50.0
    total = gain[:, 0].copy()
    came = np.zeros(gain.shape, dtype=np.int8)
    drift = np.diff(middle, axis=1, prepend=middle[:, :1])
    margin = int(np.abs(drift).max()) + 1
    padded = np.full((len(lines), len(offs) + 2 * margin), _NOWHERE)
    every = np.arange(len(lines))
    near = every[:, None], np.arange(-1, len(offs) + 1) + margin
    for step in range(1, steps):
        # From row r - move to row r: the offset changes by the move less the course's drift.
        padded[:, margin:-margin] = total
        before = padded[near[0], near[1] + drift[:, step, None]]
        reached = np.stack([before[:, 2:] - 0.3, before[:, 1:-1], before[:, :-2] - 0.3])
        best = reached.max(axis=0)
        is_reached = best > _NOWHERE
        np.subtract(
            reached.argmax(axis=0), 1, out=came[:, step], where=is_reached, casting="unsafe"
        )
        total = np.where(is_reached, best, _NOWHERE) + gain[:, step]
    paths = np.zeros(lines.shape, dtype=int)
    at = total.argmax(axis=1)
    for step in range(steps - 1, -1, -1):
        paths[:, step] = middle[:, step] + offs[at]
        at = np.clip(at - came[every, step, at] + drift[:, step], 0, len(offs) - 1)
    where = np.clip(paths, 0, units.shape[0] - 1)
    return paths.astype(np.float64), smooth[where, columns[None]].astype(np.float64)


def _tip(
    values: NDArray[np.float64], is_seen: NDArray[np.bool_], seen_mm: float
) -> tuple[float, float, float]:
    """Return the tip's distance from the end and its 95 % interval, mm.

    ``values`` (n, steps): darkness along the crack's line (the first) and along lines beside it.
    """
    blocks = values.shape[1] // _BLOCK
    cut = values[:, : blocks * _BLOCK].reshape(len(values), blocks, _BLOCK).mean(axis=2)
    seen = is_seen[: blocks * _BLOCK : _BLOCK]
    own, beside = cut[0], cut[1:]
    usual, spread = np.zeros(blocks), np.full(blocks, 0.05)
    for part in (seen, ~seen):
        if part.any() and len(beside):
            usual[part] = np.median(beside[:, part])
            spread[part] = max(
                1.4826 * float(np.median(np.abs(beside[:, part] - usual[part][0]))), 0.01
            )
    # Lines differ: the one that the crack runs into may be a dark one all along.
    between = 0.02
    if len(beside) > 1:
        between = max(1.4826 * float(np.median(np.abs(beside.mean(axis=1) - usual.mean()))), 0.02)
    step_mm = _BLOCK * _STEP_PX * WORK_MM_PER_PX
    x = (np.arange(blocks) + 0.5) * step_mm
    over = own - usual
    soft = cv2.blur(np.maximum(over, 0).reshape(1, -1), (5, 1)).ravel()
    sigma = np.sqrt(spread**2 + (0.25 * soft) ** 2)
    tips = np.arange(max(0.5 * seen_mm, step_mm), x[-1], 2.0)
    if len(tips) == 0:
        return seen_mm, seen_mm, seen_mm
    costs = _costs(over, x, sigma, between, tips)
    off = tips - seen_mm
    usually = np.where(off > 0, off / _UNSEEN_MM, -off / _OVERSEEN_MM)
    odds = -0.25 * costs - usually[:, None]
    weight = np.exp(odds - odds.max()).sum(axis=1)
    share = np.cumsum(weight) / weight.sum()
    low, middle, high = (float(np.interp(v, share, tips)) for v in (0.025, 0.5, 0.975))
    return middle, max(middle - _WIDER * (middle - low), 0.0), middle + _WIDER * (high - middle)


def _costs(
    over: NDArray[np.float64],
    x: NDArray[np.float64],
    sigma: NDArray[np.float64],
    between: float,
    tips: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return how badly cracks of those lengths, in lines of their own darkness, fit what is seen.

    For each of the tips and each of `_POWERS`.
    """
    open_mm = np.clip(1.0 - x / tips[:, None], 0.0, None)
    shape = open_mm[:, None] ** np.array(_POWERS)[:, None]
    weight = sigma**-2
    # Least squares for the crack's width and its line's darkness, the latter held near the usual.
    ss, s1 = shape**2 @ weight, shape @ weight
    n = float(weight.sum()) + between**-2
    so, o1 = shape @ (weight * over), float((weight * over).sum())
    det = np.maximum(ss * n - s1 * s1, 1e-9)
    wide = np.maximum((so * n - o1 * s1) / det, 0.0)
    line = (o1 - wide * s1) / n
    left = over - wide[..., None] * shape - line[..., None]
    worst = np.minimum(weight * left**2, 9.0).sum(axis=2)
    return np.asarray(worst + (line / between) ** 2)
