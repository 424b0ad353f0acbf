"""Read the graduations of a plain rule: how many there are, and where each one lies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled

if TYPE_CHECKING:
    from scanner.vision.rule_band import Band

INCH_MM, CM_MM = 25.4, 10.0
# Rules that are sold (common practice, no source): length, step between long graduations.
USUAL_RULES = tuple(
    [(inches * INCH_MM, INCH_MM) for inches in (6, 12, 18, 24, 36, 48, 60, 72)]
    + [(cm * CM_MM, CM_MM) for cm in (15, 20, 30, 40, 50, 60, 100, 120, 150, 200)]
)
# Steel beyond the last line (a hole to hang it by), as a share of its graduated length.
LONGEST_TAIL = 0.1
# What leaves or a shadow may hide of its ends.
SHORTEST_BY = 0.03
# Score from which graduations are believed: on rendered photos rules reach 9 to 20, other bars
# (boards, gaps, joints, shadows) stay under 7.
BELIEVED = 7.5
# How surely long lines must lead those a third of a step on.
LEAST_LEAD = 5.0
# A second edge is read where the first one is believed and it agrees about as well.
EDGE_BELIEVED = 6.0
_ROWS = 28
# Long graduations reach in this many pairs of rows, less one: 0.36 of the width.
DEEPEST = 4


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Graduations along a band.

    Attributes
    ----------
    score
        How clearly the steps of the rule show: Student's t over its lines.
    heights
        Where across the bar each was read: -0.5 at the lower edge to 0.5 at the upper one.
    x_mm, shares, pixels
        Each graduation read: its place on the rule, its share of the band, (N, 2) px.
    has_tail
        The bar is longer than its graduations; its ends say nothing.
    """

    score: float
    heights: Floats
    x_mm: Floats
    shares: Floats
    pixels: Floats
    has_tail: bool
    foreshortening: float
    zero: float
    steps: float
    step_mm: float

    def x_of(self, share: float) -> float:
        """Return the place on the rule, mm, at a share of the band."""
        q = self.foreshortening
        flat = share / (share + q * (1 - share))
        return float((flat - self.zero) * self.steps * self.step_mm)


def _darkness(grey: Bytes, band: Band) -> Floats:
    """Return rows of line signal along the band, (rows, columns): high where a dark line is."""
    columns = int(2 * band.length)
    values = sampled(grey, band.grid(columns, _ROWS)).astype(np.float64)
    wide = max(9, columns // 40) | 1
    kernel = np.ones(wide) / wide
    padded = np.pad(values, ((0, 0), (wide // 2, wide // 2)), mode="edge")
    ground = np.array([np.convolve(row, kernel, mode="valid") for row in padded])
    signal = ground - values
    # Shadows, hands and holes are not lines: limit what one place can say.
    scatter = 1.4826 * np.median(np.abs(signal), axis=1, keepdims=True) + 0.5
    return np.asarray(np.clip(signal / scatter, -4, 4))


def _row_groups(signal: Floats) -> Floats:
    """Return the signal of lines that reach in from an edge to several depths.

    A graduation starts at the edge: what is dark only further in is a number, and at some depth
    the long graduations stand alone. So each group takes the least dark row on the way in.
    """
    parts = []
    pairs = signal.reshape(_ROWS // 2, 2, -1).mean(axis=1)
    for rows in (pairs, pairs[::-1]):
        # The outermost rows mix with the ground, and with lines too dense to part.
        parts += list(np.minimum.accumulate(rows[1 : DEEPEST + 1], axis=0))
    # Many rules carry the same lines on both edges.
    both = [(parts[i] + parts[i + DEEPEST]) / 2 for i in range(DEEPEST)]
    return np.array(parts + both)


def _row_means(signal: Floats) -> Floats:
    """Return the plain mean of the same rows as each of `_row_groups`.

    Its lines lie at the middle of the rows, where perspective slants them; the least of several
    rows has no such middle.
    """
    pairs = signal.reshape(_ROWS // 2, 2, -1).mean(axis=1)
    parts = []
    for rows in (pairs, pairs[::-1]):
        parts += [rows[1 : 2 + deep].mean(axis=0) for deep in range(DEEPEST)]
    both = [(parts[i] + parts[i + DEEPEST]) / 2 for i in range(DEEPEST)]
    return np.array(parts + both)


def _height_of(row: int) -> float:
    """Return the middle of what a row group spans, across the bar (0.5: upper edge)."""
    if row >= 2 * DEEPEST:
        return 0.0
    deep = (row % DEEPEST + 1) * 2 / _ROWS
    height = 0.5 - 2 / _ROWS - deep / 2
    return height if row < DEEPEST else -height


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Even steps seen in a row group: how clear, how foreshortened, how many over the band.

    A place p (0 to 1, even on the rule) lies at the share q p / (1 - p + q p) of the band.
    """

    score: float
    foreshortening: float
    steps: float
    offset: float
    row: int


_NO_PATTERN = _Pattern(0.0, 1.0, 1.0, 0.0, 0)


def _share_of(place: Floats, q: Floats) -> Floats:
    return np.asarray(q * place / (1 - place + q * place))


def _darker(groups: Floats, step_columns: float) -> Floats:
    """Return what each place is darker than its surroundings, a step wide."""
    reach = max(2, round(0.42 * step_columns))
    lags = np.unique(np.linspace(-reach, reach, 11).astype(int))
    lags = lags[np.abs(lags) > 0.12 * step_columns]
    padded = np.pad(groups, ((0, 0), (reach, reach)), mode="edge")
    size = groups.shape[1]
    around = np.stack([padded[:, reach + lag : reach + lag + size] for lag in lags])
    return np.asarray(groups - np.median(around, axis=0))


def _lines(darker: Floats, q: Floats, steps: Floats, offset: Floats) -> Floats:
    """Return the signal at the lines of patterns, (row groups, patterns, lines)."""
    last = darker.shape[1] - 1
    count = int(np.floor(steps.min() - 1e-6)) - 1
    place = offset[:, None] + np.arange(1, count + 1) / steps[:, None]
    column = np.clip(_share_of(np.clip(place, 0, 1), q[:, None]) * last, 0, last - 1e-6)
    low = column.astype(np.int_)
    part = column - low
    return np.asarray(darker[:, low] * (1 - part) + darker[:, low + 1] * part)


def _certainty(lines: Floats) -> float:
    return float(lines.mean() / (lines.std() + 0.15) * np.sqrt(len(lines)))


def _scores(darker: Floats, q: Floats, steps: Floats, offset: Floats) -> Floats:
    """Return how surely dark lines stand at even steps, (row groups, patterns).

    The mean of what each line is darker than its own surroundings, over the standard error of
    that mean: Student's t over the lines.
    """
    lines = _lines(darker, q, steps, offset)
    spread = lines.std(axis=2) + 0.15
    return np.asarray(lines.mean(axis=2) / spread * np.sqrt(lines.shape[2]))


def _lead(groups: Floats, pattern: _Pattern, step_columns: float) -> float:
    """Return how surely the lines of a pattern lead what stands a third of a step on.

    Every third eighth of an inch is a line too, and 5 % from a centimetre.
    """
    sharp = _darker(_blurred(groups[[pattern.row]], 0.03 * step_columns), step_columns)
    one = (np.array([pattern.foreshortening]), np.array([pattern.steps]))
    third = 1 / 3 / pattern.steps
    values = [
        _lines(sharp, *one, np.array([pattern.offset + shift]))[0, 0] for shift in (0.0, third)
    ]
    return _certainty(values[0] - values[1])


def _blurred(groups: Floats, sd: float) -> Floats:
    reach = max(1, round(3 * sd))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(sd, 0.3)) ** 2)
    kernel /= kernel.sum()
    return np.array([np.convolve(row, kernel, mode="same") for row in groups])


def _best_of(
    groups: Floats, q: Floats, steps: Floats, offset: Floats, rows: list[int] | None = None
) -> _Pattern:
    chosen = groups if rows is None else groups[rows]
    scores = _scores(chosen, q, steps, offset)
    row, column = np.unravel_index(int(scores.argmax()), scores.shape)
    where = int(row) if rows is None else rows[int(row)]
    return _Pattern(
        float(scores[row, column]),
        float(q[column]),
        float(steps[column]),
        float(offset[column]),
        where,
    )


def _find_pattern(groups: Floats, band: Band, count: float, *, tails: bool) -> _Pattern:
    """Return the clearest pattern of so many steps between the bar's ends.

    ``tails``: the bar may be longer than its graduations, at either end.
    """
    # Under 4 px a step cannot be told from its neighbour.
    if count < 5 or band.length / count < 4:
        return _NO_PATTERN
    step_columns = groups.shape[1] / count
    soft = _darker(_blurred(groups, 0.08 * step_columns), step_columns)
    # Fine enough that the middle of the rule moves by less than an eighth of a step.
    q = np.exp(np.arange(-0.6, 0.601, min(0.03, 0.4 / count)))
    if tails:
        spare = np.arange(-SHORTEST_BY, LONGEST_TAIL, 0.25 / count)
        place = np.linspace(-0.5, 0.5, 8, endpoint=False)
        grid = np.meshgrid(q[::2], count * (1 + spare), place, indexing="ij")
        qs, steps, offsets = (axis.ravel() for axis in grid)
        offsets = offsets / steps
    else:
        qs, steps, offsets = q, np.full(len(q), count), np.zeros(len(q))
    best = _NO_PATTERN
    # Both edges together only where one alone is too faint: perspective slants the lines, and
    # their mean is less sharp.
    for rows in (list(range(2 * DEEPEST)), list(range(2 * DEEPEST, 3 * DEEPEST))):
        if best.score >= BELIEVED:
            break
        for first in range(0, len(qs), 400):
            part = slice(first, first + 400)
            found = _best_of(soft, qs[part], steps[part], offsets[part], rows)
            best = max(best, found, key=lambda one: one.score)
    if best.score <= 2.0:
        return best
    return _sharpened(groups, best, step_columns)


def _sharpened(groups: Floats, pattern: _Pattern, step_columns: float) -> _Pattern:
    """Return the pattern of the same row group that fits best nearby."""
    sharp = _darker(_blurred(groups, 0.03 * step_columns), step_columns)
    best = pattern
    for width in (1.0, 0.4, 0.15):
        grid = np.meshgrid(
            best.foreshortening * np.exp(np.linspace(-0.02, 0.02, 7) * width),
            best.steps + np.linspace(-0.35, 0.35, 7) * width,
            best.offset + np.linspace(-0.35, 0.35, 7) * width / best.steps,
            indexing="ij",
        )
        qs, steps, offsets = (axis.ravel() for axis in grid)
        best = _best_of(sharp, qs, steps, offsets, [pattern.row])
    return best


def tick_score(grey: Bytes, band: Band, length_mm: float) -> float:
    """Return quickly about how clearly a rule's graduations show on a band."""
    groups = _row_groups(_darkness(grey, band))
    counts = (length_mm / INCH_MM, length_mm / CM_MM)
    return max(_find_pattern(groups, band, count, tails=False).score for count in counts)


def usual_rules_on(grey: Bytes, band: Band) -> tuple[list[tuple[float, float]], float]:
    """Return the usual rules that show best on a band, (length mm, steps), and the best score.

    Often there are two: half inches of a rule are the inches of one twice as long.
    """
    groups = _row_groups(_darkness(grey, band))
    found = [
        (length, length / step, _find_pattern(groups, band, length / step, tails=False).score)
        for length, step in USUAL_RULES
    ]
    best = max(score for _, _, score in found)
    return [(length, count) for length, count, score in found if score >= 0.75 * best], best


def read_ticks(grey: Bytes, band: Band, length_mm: float) -> Ticks:
    """Return the graduations of a rule whose length is told, and how well they fit it."""
    signal = _darkness(grey, band)
    groups, means = _row_groups(signal), _row_means(signal)
    rules = [(length_mm, step) for step in (INCH_MM, CM_MM)]
    patterns = [_find_pattern(groups, band, length / step, tails=False) for length, step in rules]
    if max(pattern.score for pattern in patterns) < BELIEVED:
        # A tail is one more freedom, in which finer graduations may pass for long ones.
        patterns = [
            _find_pattern(groups, band, length / step, tails=True) for length, step in rules
        ]
    patterns = [
        pattern
        if pattern.score < BELIEVED
        or _lead(groups, pattern, groups.shape[1] / pattern.steps) > LEAST_LEAD
        else _NO_PATTERN
        for pattern in patterns
    ]
    given = int(np.argmax([pattern.score for pattern in patterns]))
    pattern, step = patterns[given], rules[given][1]
    has_tail = abs(pattern.steps * step / length_mm - 1) > 0.008
    at_end = abs(pattern.offset) * pattern.steps < 0.35
    # The same lines on both edges tell how far the rule leans: its narrow width alone does not.
    edge = pattern.row % DEEPEST
    read = []
    for row in (edge, edge + DEEPEST):
        own = replace(pattern, row=row)
        if row != pattern.row:
            own = _sharpened(groups, own, groups.shape[1] / pattern.steps)
        if own.score >= EDGE_BELIEVED:
            read.append((_height_of(row), *_each(groups[row], means[row], band, own, step)))
    if not read:
        both = _each(groups[pattern.row], means[pattern.row], band, pattern, step)
        read.append((_height_of(pattern.row), *both))
    heights = np.concatenate([np.full(len(one[1]), one[0]) for one in read])
    x, shares, pixels = (np.concatenate([one[i] for one in read]) for i in (1, 2, 3))
    return Ticks(
        score=pattern.score,
        heights=heights,
        x_mm=x,
        shares=shares,
        pixels=pixels,
        has_tail=has_tail or not at_end,
        foreshortening=pattern.foreshortening,
        zero=pattern.offset,
        steps=pattern.steps,
        step_mm=step,
    )


def _each(
    signal: Floats, mean: Floats, band: Band, pattern: _Pattern, step_mm: float
) -> tuple[Floats, Floats, Floats]:
    """Return place, share and pixel of every line near where the pattern says it is."""
    last = len(signal) - 1
    q = np.array(pattern.foreshortening)
    x, shares, pixels = [], [], []
    for number in range(1, int(pattern.steps) + 1):
        place = pattern.offset + np.array([number - 0.5, number, number + 0.5]) / pattern.steps
        if place[1] > 1 - 0.4 / pattern.steps:
            break  # a line at the very end is the bar's edge
        before, at, after = _share_of(np.clip(place, 0, 1), q) * last
        reach = max(2.5, 0.18 * (after - before))
        low, high = int(max(1, at - reach)), int(min(last - 1, at + reach + 1))
        peak = low + int(signal[low : high + 1].argmax())
        if peak in (low, high):
            continue
        ground = float(np.median(signal[int(before) : int(after) + 1]))
        near = np.arange(peak - 2, peak + 3).clip(0, last)
        weight = np.maximum(mean[near] - mean[near].min(), 0.0)
        if weight.sum() <= 0 or signal[peak] - ground < 0.5:
            continue
        share = float((weight * near).sum() / weight.sum()) / last
        x.append(number * step_mm)
        shares.append(share)
        pixels.append(band.place(share, _height_of(pattern.row)))
    return np.array(x), np.array(shares), np.array(pixels).reshape(-1, 2)
