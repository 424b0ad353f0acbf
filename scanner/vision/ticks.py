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
_FORESHORTENING = np.exp(np.linspace(-0.6, 0.6, 61))


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Graduations along a band.

    Attributes
    ----------
    score, best_score
        How clearly the steps of the given rule show, and those of the best usual rule (about the
        number of standard deviations over chance).
    best_rule
        (length, step) mm of that rule.
    x_mm, shares, pixels
        Each graduation read: its place on the rule, its share of the band, (N, 2) px.
    has_tail
        The bar is longer than its graduations; its ends say nothing.
    """

    score: float
    best_score: float
    best_rule: tuple[float, float]
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
    """Return the amplitude of each frequency over that of its neighbours, (rows, frequencies)."""
    size = signal.shape[1]
    window = np.hanning(size)
    power = np.abs(np.fft.rfft((signal - signal.mean(axis=1, keepdims=True)) * window, pad * size))
    return np.asarray(power / (np.median(power, axis=1, keepdims=True) + 1e-9))


def _row_groups(signal: Floats) -> Floats:
    """Return the signal of bands of rows at several depths from both edges, and of all."""
    parts = []
    for first in range(0, _ROWS, 4):
        parts.append(signal[first : first + 4].mean(axis=0))
    parts.append(signal.mean(axis=0))
    return np.array(parts)


def read_ticks(grey: Bytes, band: Band, length_mm: float) -> Ticks:
    """Return the graduations of a rule whose length is told, and how well they fit it."""
    groups = _row_groups(_darkness(grey, band))
    size = min(2048, groups.shape[1])
    pad = 4
    rules = [(length_mm, step) for step in (INCH_MM, CM_MM)] + list(USUAL_RULES)
    best: dict[int, tuple[float, float, float, int]] = {}
    for q in _FORESHORTENING:
        spectrum = _spectrum(_flattened(groups, float(q), size), pad)
        for index, (length, step) in enumerate(rules):
            count = length / step
            # Under 4 px a step cannot be told from its neighbour.
            if count < 5 or band.length / count < 4:
                continue
            low = int(round((count * 0.995) * pad))
            high = int(round(count * (1 + LONGEST_TAIL) * pad)) + 1
            part = spectrum[:, low : high + 1]
            row, column = np.unravel_index(int(part.argmax()), part.shape)
            value = float(part[row, column])
            if index not in best or value > best[index][0]:
                best[index] = (value, float(q), (low + int(column)) / pad, int(row))
    return _chosen(groups, band, rules, best, length_mm)


def _score(value: float) -> float:
    # Amplitude of noise over its median is Rayleigh: the chance of a value falls as
    # exp(-0.69 v^2); many frequencies are tried, so that 4 is common and 5 is not.
    return value


def _chosen(
    groups: Floats,
    band: Band,
    rules: list[tuple[float, float]],
    best: dict[int, tuple[float, float, float, int]],
    length_mm: float,
) -> Ticks:
    nothing = np.zeros(0)
    own = [index for index in (0, 1) if index in best]
    if not best or not own:
        return Ticks(0, 0, (length_mm, 0), nothing, nothing, np.zeros((0, 2)), False, 1.0, 0.0, 1.0, length_mm)
    given = max(own, key=lambda index: best[index][0])
    top = max(best, key=lambda index: best[index][0])
    value, q, steps, row = best[given]
    step = rules[given][1]
    flat = _flattened(groups, q, min(2048, groups.shape[1]))[row]
    # Phase of the pattern: where on the band the first graduation lies.
    size = len(flat)
    wave = np.exp(-2j * np.pi * steps * np.arange(size) / (size - 1)) * np.hanning(size)
    phase = float(np.angle((flat * wave).sum()))
    offset = (-phase / (2 * np.pi)) / steps
    offset -= np.floor(offset * steps + 1e-9) / steps
    has_tail = steps > length_mm / step * 1.008
    # Without a tail the first graduation is one step from the end: zero is the end itself.
    zero = 0.0 if not has_tail else offset
    if not has_tail and min(offset * steps, 1 - offset * steps) > 0.25:
        zero = offset
    count = round(length_mm / step) if not has_tail else int(steps)
    x, shares, pixels = _each(flat, band, q, steps, offset, count, step, zero)
    return Ticks(
        score=_score(value),
        best_score=max(_score(best[top][0]), _score(value)),
        best_rule=rules[top],
        x_mm=x,
        shares=shares,
        pixels=pixels,
        has_tail=has_tail,
        foreshortening=q,
        zero=zero,
        steps=steps,
        step_mm=step,
    )


def _each(
    flat: Floats,
    band: Band,
    q: float,
    steps: float,
    offset: float,
    count: int,
    step_mm: float,
    zero: float,
) -> tuple[Floats, Floats, Floats]:
    """Return place, share and pixel of every graduation near where the pattern says it is."""
    size = len(flat)
    width = size / steps
    x, shares, pixels = [], [], []
    first = offset if offset > 0.5 / steps else offset + 1.0 / steps
    for number in range(count + 1):
        at = (first + number / steps) * (size - 1)
        if at < 0.4 * width or at > size - 1 - 0.4 * width:
            continue
        reach = max(2.0, 0.22 * width)
        low, high = int(max(0, at - reach)), int(min(size, at + reach + 1))
        part = np.maximum(flat[low:high] - np.median(flat[low:high]), 0.0) ** 2
        if part.sum() <= 0:
            continue
        peak = low + int(part.argmax())
        near = np.arange(max(low, peak - 2), min(high, peak + 3))
        weight = np.maximum(flat[near] - np.median(flat[low:high]), 0.0)
        if weight.sum() <= 0 or peak in (low, high - 1):
            continue
        place = float((weight * near).sum() / weight.sum()) / (size - 1)
        share = q * place / (1 - place + q * place)
        x.append(round((place - zero) * steps) * step_mm)
        shares.append(share)
        pixels.append(band.centre(share))
    return np.array(x), np.array(shares), np.array(pixels).reshape(-1, 2)


def rule_that_fits(ticks: Ticks) -> float | None:
    """Return the length of the usual rule whose graduations show best, mm."""
    return ticks.best_rule[0] if ticks.best_rule[0] > 0 else None
