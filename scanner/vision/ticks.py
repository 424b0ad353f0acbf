"""Read the graduations of a plain rule: how many there are, and where each one lies."""

from __future__ import annotations

from dataclasses import dataclass
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
LONGEST_TAIL = 0.07
_ROWS = 28
_FORESHORTENING = np.exp(np.linspace(-0.6, 0.6, 49))


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Graduations along a band.

    Attributes
    ----------
    score
        How clearly the steps of the rule show: Student's t over its lines.
    height
        Where across the bar they were read: -0.5 at the lower edge to 0.5 at the upper one.
    x_mm, shares, pixels
        Each graduation read: its place on the rule, its share of the band, (N, 2) px.
    has_tail
        The bar is longer than its graduations; its ends say nothing.
    """

    score: float
    height: float
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


def _flattened(signal: Floats, q: float, size: int) -> Floats:
    """Return the signal over even steps of the rule, for a foreshortening q."""
    flat = np.linspace(0.0, 1.0, size)
    share = q * flat / (1 - flat + q * flat)
    at = share * (signal.shape[1] - 1)
    low = np.minimum(at.astype(int), signal.shape[1] - 2)
    part = at - low
    return np.asarray(signal[:, low] * (1 - part) + signal[:, low + 1] * part)


def _spectrum(signal: Floats, pad: int) -> Floats:
    """Return the amplitude at each frequency, (rows, frequencies)."""
    size = signal.shape[1]
    window = np.hanning(size)
    centred = (signal - signal.mean(axis=1, keepdims=True)) * window
    return np.asarray(np.abs(np.fft.rfft(centred, pad * size, axis=1)))


def _row_groups(signal: Floats) -> Floats:
    """Return the signal at several depths from both edges, and of all rows.

    Only the long graduations reach deep, so that at some depth they stand alone.
    """
    parts = [signal[first : first + 4].mean(axis=0) for first in range(0, _ROWS, 4)]
    parts.append(signal.mean(axis=0))
    return np.array(parts)


def _height_of(row: int) -> float:
    """Return where a row group lies across the bar."""
    first = 4 * row
    return 0.0 if first >= _ROWS else 0.5 - (first + 2) / _ROWS


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Even steps seen in a row group: how clear, how foreshortened, how many over the band."""

    score: float
    foreshortening: float
    steps: float
    offset: float
    row: int


_NO_PATTERN = _Pattern(0.0, 1.0, 1.0, 0.0, 0)
_SIZE = 2048
_PAD = 2


def _find_patterns(
    groups: Floats, band: Band, rules: list[tuple[float, float]], *, quick: bool
) -> list[_Pattern]:
    """Return the clearest pattern of each rule's steps."""
    best: list[tuple[float, float, float, int] | None] = [None] * len(rules)
    size = min(_SIZE, groups.shape[1])
    for q in _FORESHORTENING:
        spectrum = _spectrum(_flattened(groups, float(q), size), _PAD)
        for index, (length, step) in enumerate(rules):
            count = length / step
            # Under 4 px a step cannot be told from its neighbour.
            if count < 5 or band.length / count < 4:
                continue
            low = int(count * 0.995 * _PAD)
            high = round(count * (1 + LONGEST_TAIL) * _PAD) + 1
            around = spectrum[:, int(0.6 * low) : int(1.6 * high)]
            part = spectrum[:, low : high + 1] / (np.median(around, axis=1, keepdims=True) + 1e-9)
            row, column = np.unravel_index(int(part.argmax()), part.shape)
            value = float(part[row, column])
            here = best[index]
            if here is None or value > here[0]:
                best[index] = (value, float(q), (low + int(column)) / _PAD, int(row))
    return [
        _NO_PATTERN if one is None else _settled(groups, size, one[1], one[2], one[3], quick=quick)
        for one in best
    ]


def _settled(
    groups: Floats, size: int, q: float, steps: float, row: int, *, quick: bool
) -> _Pattern:
    """Return the pattern with its phase and its score: how surely lines stand at the steps.

    The score is the mean of what each line is darker than its own surroundings, over the
    standard error of that mean (Student's t over the lines).
    """
    best = _NO_PATTERN
    for finer in q * np.exp([0.0] if quick else np.linspace(-0.012, 0.012, 5)):
        flat = _flattened(groups[row : row + 1], float(finer), size)[0]
        for count in steps + np.linspace(-0.3, 0.3, 5 if quick else 13):
            wave = np.exp(-2j * np.pi * count * np.arange(size) / (size - 1)) * np.hanning(size)
            offset = -float(np.angle((flat * wave).sum())) / (2 * np.pi) / count
            # The complex sum is of exp(-i w x), so its angle is minus the phase of the lines.
            offset = offset % (1.0 / count)
            places = (offset + np.arange(int(count) + 1) / count) * (size - 1)
            places = places[(places > 2) & (places < size - 3)]
            if len(places) < 5:
                continue
            width = size / count
            inner = places[:, None] + np.linspace(0.2, 0.8, 13) * width
            around = np.median(np.interp(inner, np.arange(size), flat), axis=1)
            lines = np.interp(places, np.arange(size), flat)
            darker = lines - around
            score = float(darker.mean() / (darker.std() + 0.15) * np.sqrt(len(darker)))
            if score > best.score:
                best = _Pattern(score, float(finer), float(count), offset, row)
    return best


def tick_score(grey: Bytes, band: Band, length_mm: float) -> float:
    """Return quickly about how clearly a rule's graduations show on a band."""
    groups = _row_groups(_darkness(grey, band))
    own = [(length_mm, step) for step in (INCH_MM, CM_MM)]
    return max(one.score for one in _find_patterns(groups, band, own, quick=True))


def usual_rule_on(grey: Bytes, band: Band) -> tuple[float, float]:
    """Return the length, mm, of the usual rule whose graduations show best, and its score."""
    groups = _row_groups(_darkness(grey, band))
    patterns = _find_patterns(groups, band, list(USUAL_RULES), quick=True)
    top = int(np.argmax([pattern.score for pattern in patterns]))
    return USUAL_RULES[top][0], patterns[top].score


def read_ticks(grey: Bytes, band: Band, length_mm: float) -> Ticks:
    """Return the graduations of a rule whose length is told, and how well they fit it."""
    groups = _row_groups(_darkness(grey, band))
    rules = [(length_mm, step) for step in (INCH_MM, CM_MM)]
    patterns = _find_patterns(groups, band, rules, quick=False)
    given = int(np.argmax([pattern.score for pattern in patterns]))
    pattern, step = patterns[given], rules[given][1]
    has_tail = pattern.steps > length_mm / step * 1.008
    phase = pattern.offset * pattern.steps
    # Without a tail zero is the bar's own end.
    at_end = min(phase, 1 - phase) < 0.2
    zero = 0.0 if at_end and not has_tail else pattern.offset
    flat = _flattened(groups[pattern.row : pattern.row + 1], pattern.foreshortening, _SIZE)[0]
    x, shares, pixels = _each(flat, band, pattern, step, zero)
    return Ticks(
        score=pattern.score,
        height=_height_of(pattern.row),
        x_mm=x,
        shares=shares,
        pixels=pixels,
        has_tail=has_tail or not at_end,
        foreshortening=pattern.foreshortening,
        zero=zero,
        steps=pattern.steps,
        step_mm=step,
    )


def _each(
    flat: Floats, band: Band, pattern: _Pattern, step_mm: float, zero: float
) -> tuple[Floats, Floats, Floats]:
    """Return place, share and pixel of every line near where the pattern says it is."""
    size, q = len(flat), pattern.foreshortening
    width = size / pattern.steps
    x, shares, pixels = [], [], []
    for number in range(int(pattern.steps) + 2):
        at = (pattern.offset + number / pattern.steps) * (size - 1)
        # A line at the very end is the bar's edge.
        if at < 0.4 * width or at > size - 1 - 0.4 * width:
            continue
        reach = max(2.0, 0.22 * width)
        low, high = int(max(0, at - reach)), int(min(size, at + reach + 1))
        peak = low + int(flat[low:high].argmax())
        ground = float(np.median(flat[low:high]))
        near = np.arange(max(0, peak - 2), min(size, peak + 3))
        weight = np.maximum(flat[near] - ground, 0.0)
        if weight.sum() <= 0 or peak in (low, high - 1):
            continue
        place = float((weight * near).sum() / weight.sum()) / (size - 1)
        share = q * place / (1 - place + q * place)
        x.append(round((place - zero) * pattern.steps) * step_mm)
        shares.append(share)
        lift = _height_of(pattern.row) * band.width(share)
        pixels.append(band.centre(share) + lift * band.up(share))
    return np.array(x), np.array(shares), np.array(pixels).reshape(-1, 2)
