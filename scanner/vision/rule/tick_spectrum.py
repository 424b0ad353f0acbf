"""How often graduations repeat over a bar: a spectrum along it, freed of perspective.

Even steps seen under perspective are even again once the bar is laid out by the projective map of
a line (one unknown, the foreshortening); then each kind of line gives peaks at whole multiples of
its number. The longest lines come least often, and only they explain the odd multiples: so a rule
read at half or at twice its steps shows at once. Signal against noise by the exponential law of a
noise spectrum (G. Jenkins, D. Watts, "Spectral analysis and its applications", 1968).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, reduce
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from scanner.vision.rule.tick_signal import GROUPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats

# ln of scale at one end over scale at the other: 0.7 is 2:1.
_STEEPEST = 0.7
_PAD = 4
# Fewer repeats than this are no graduations; lines nearer than this many px cannot be parted.
FEWEST, NEAREST_PX = 5.0, 2.3
# Noise is taken as even over this many repeats.
_BLOCK = 24
# No single peak may say much more than this (a slatted thing has one, graduations have many), but
# the top of a peak must still stand over its own foot.
_MOST, _BEYOND = 40.0, 10.0
# What a multiple without a peak costs.
_COST = 1.0
# Of 221 bars (rules among them) none that stayed below this at every third foreshortening had more
# than 42 at any; what is less than 110 is never read (`search`).
_THIRD, _FAINT = 3, 40.0
# Of 601 looks at bars on 19 rendered photos, with their rule and without, those that were believed
# in the end showed 127 or more at a rough look.
_HOPELESS = 60.0
# Values that are transformed at once: few calls, and still in the processor's cache.
_AT_ONCE = 1 << 17
_STEP = 1 / 16
# Share of the best evidence from which a count explains what is seen: on rendered rules half the
# count reaches 0.83 to 0.99, the true one 1, twice the count 0.55 to 0.62, anything else less.
_EXPLAINS = 0.85
# ... but where half of it explains so much more it is twice the true one: the half inches of a rule
# seen aslant reached 0.85 to 0.88 of its inches (two photos), and the true count's half never led.
_HALF_LEADS = 1.1
# Foreshortenings that are tried with care, unless one is this clear (rendered rules reach 400 to
# 1200): half shade and grass hide the true one at a quick look.
_TRIED, _SURE = 3, 500.0
# ... each with what lies so near to it (ln).
_COVERED = 0.05
_FORESHORTENINGS = np.exp(np.arange(-_STEEPEST, _STEEPEST + 0.01, 0.02))
_IS_BETWEEN = np.arange(len(_FORESHORTENINGS)) % _THIRD != 0


@dataclass(frozen=True, slots=True)
class Repeats:
    """Graduations that repeat along a bar.

    A place p (0 to 1, even on the rule) lies at the share q p / (1 - p + q p) of the bar.

    Attributes
    ----------
    count
        Repeats of the longest lines over the whole bar.
    foreshortening
        q.
    evidence
        ln of odds against plain noise, both edges, multiples of the count together.
    evidence_half, evidence_twice
        The same for half and for twice the count.
    halving
        ln of how far the power at 4 and 8 lines a step stands over that at 2 and 6: above 1 where
        steps are halved again and again, as inches are; 0 where too fine to be seen.
    tenths
        The same for 10 lines a step against 8 and 12, as centimetres have.
    is_of_every_second
        Twice as many were counted first, of which every second one was the longer.
    """

    count: float
    foreshortening: float
    evidence: float
    evidence_half: float
    evidence_twice: float
    halving: float
    tenths: float
    is_of_every_second: bool = False


NO_REPEATS = Repeats(1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def share_of(place: Floats, q: float | Floats) -> Floats:
    """Return the share of the bar at which a place (0 to 1, even on the rule) lies."""
    return np.asarray(q * place / (1 - place + q * place))


def _power(groups: Floats | NDArray[np.float32], qs: Floats, pad: int) -> Floats:
    """Return power over its noise, (foreshortenings, groups, repeats x pad)."""
    last = groups.shape[1] - 1
    size = _size(groups)
    place = (np.arange(size) + 0.5) / size
    at = share_of(place, qs[:, None]) * last
    low = np.minimum(at.astype(np.int_), last - 1)
    part = (at - low).astype(np.float32)
    groups = groups.astype(np.float32, copy=False)
    even = np.take(groups, low, axis=1) * (1 - part)
    even += np.take(groups, low + 1, axis=1) * part
    even -= even.mean(axis=2, keepdims=True)
    even *= _window(size)
    block = _BLOCK * pad
    blocks = (size * pad // 2) // block
    seen = fft.rfft(even, size * pad, axis=2)[..., 1 : blocks * block + 1]
    power = np.ascontiguousarray((seen.real**2 + seen.imag**2).swapaxes(0, 1))
    # Of an odd number of values the median is one of them, which is found in half the time.
    parts = power.reshape(*power.shape[:2], blocks, block)
    middle = (block - 1) // 2
    noise = np.partition(parts[..., 1:], middle, axis=3)[..., middle] / np.float32(np.log(2))
    parts /= (noise + np.float32(1e-6))[..., None]
    return np.asarray(power)


@cache
def _window(size: int) -> NDArray[np.float32]:
    window = np.hanning(size).astype(np.float32)
    window.setflags(write=False)
    return window


def _size(groups: Floats | NDArray[np.float32]) -> int:
    """Return to how many even places a signal is laid out."""
    return 1 << max(8, int(np.ceil(np.log2(0.55 * (groups.shape[1] - 1)))))


def _gains(groups: Floats, qs: Floats, pad: int) -> Floats:
    """Return the evidence of each peak, (foreshortenings, groups, repeats x pad).

    A few foreshortenings at a time, so that nothing leaves the processor's cache.
    """
    # Where an edge is left out there is nothing to transform.
    is_told = groups.any(axis=1)
    told = groups[is_told].astype(np.float32)
    at_once = max(1, _AT_ONCE // (max(1, len(told)) * _size(groups) * pad))
    starts = range(0, len(qs), at_once)
    each = [_gain(_power(told, qs[start : start + at_once], pad)) for start in starts]
    if is_told.all():
        return np.asarray(np.concatenate(each))
    gain = np.full((len(qs), len(groups), each[0].shape[2]), -_COST, dtype=np.float32)
    gain[:, is_told] = np.concatenate(each)
    return np.asarray(gain)


def _gain(power: Floats) -> Floats:
    """Return the evidence of each peak: below 0 where there is only noise."""
    held = np.minimum(power, np.float32(_MOST))
    gain = held - np.log(held + np.float32(1.0))
    gain -= np.float32(_COST)
    # Few peaks stand so high.
    high = power > _MOST
    gain[high] += _BEYOND * np.log(power[high] / _MOST)
    return np.asarray(gain)


def _evidence(gain: Floats, counts: Floats, pad: int, most: float, multiples: int) -> Floats:
    """Return the evidence for each count, (counts, groups, foreshortenings)."""
    # Repeats first: whole rows are then gathered at once.
    rows = np.ascontiguousarray(gain.transpose(2, 1, 0))
    out = np.zeros((len(counts), *rows.shape[1:]), dtype=np.float32)
    last = min(len(rows), int(most * pad))
    for multiple in range(1, multiples + 1):
        row = np.rint(counts * multiple * pad).astype(np.int_) - 1
        # Counts rise, so those within reach come first.
        inside = int(np.searchsorted(row, last))
        if inside == 0:
            break
        out[:inside] += rows[row[:inside]]
    return out


def _both_edges(evidence: Floats, groups: int) -> Floats:
    """Return the best group of each edge added up, (foreshortenings, counts)."""
    upper, lower = (
        reduce(np.maximum, (evidence[:, group] for group in edge))
        for edge in (range(groups), range(groups, evidence.shape[1]))
    )
    total = np.maximum(upper, 0) + np.maximum(lower, 0) + np.minimum(upper, lower) * 1e-3
    return np.ascontiguousarray(total.T)


def rough_evidence(groups: Floats, length_px: float) -> float:
    """Return quickly about how clearly anything repeats.

    ``groups`` (2 N, columns): N groups of each edge. Where next to nothing shows at every third
    foreshortening the others are not tried.
    """
    best = faint_evidence(groups, length_px)
    if best < _FAINT:
        return best
    return max(best, float(_rough(groups, length_px, _FORESHORTENINGS[_IS_BETWEEN]).max()))


def faint_evidence(groups: Floats, length_px: float) -> float:
    """Return the same at every third foreshortening alone."""
    if length_px < 2 * FEWEST * NEAREST_PX:
        return 0.0
    return float(_rough(groups, length_px, _FORESHORTENINGS[::_THIRD]).max())


def _rough(groups: Floats, length_px: float, qs: Floats) -> Floats:
    """Return evidence for counts, (foreshortenings, counts) with counts as `_rough_counts`.

    The clearest count may be that of shorter lines.
    """
    gain = _gains(groups, qs, 2)
    most = length_px / NEAREST_PX
    counts = _rough_counts(length_px)
    return _both_edges(_evidence(gain, counts, 2, most, 3), len(groups) // 2)


def _rough_counts(length_px: float) -> Floats:
    return np.arange(FEWEST, length_px / NEAREST_PX, 0.25)


def find_repeats(groups: Floats, length_px: float, fewest: float = FEWEST) -> Repeats:
    """Return the repeats of the longest graduations on a bar, or `NO_REPEATS`.

    Parameters
    ----------
    groups
        `TickSignal.groups`.
    length_px
        Of the bar in the photo.
    fewest
        Repeats that are looked for.
    """
    if length_px < 2 * fewest * NEAREST_PX:
        return NO_REPEATS
    counts = _rough_counts(length_px)
    total = np.zeros((len(_FORESHORTENINGS), len(counts)), dtype=np.float32)
    total[::_THIRD] = _rough(groups, length_px, _FORESHORTENINGS[::_THIRD])
    best = NO_REPEATS
    tried: list[float] = []
    while len(tried) <= _TRIED:
        if len(tried) == 1:
            # The first was not clear: look at those between, too.
            total[_IS_BETWEEN] = _rough(groups, length_px, _FORESHORTENINGS[_IS_BETWEEN])
        of_q = total.max(axis=1)
        for other in tried:
            of_q[np.abs(np.log(_FORESHORTENINGS / other)) < _COVERED] = 0.0
        row = int(of_q.argmax())
        if of_q[row] < _HOPELESS:
            break
        tried.append(float(_FORESHORTENINGS[row]))
        count = max(fewest, float(counts[total[row].argmax()]))
        found = _near(groups, length_px, count, tried[-1], fewest)
        best = max(best, found, key=lambda one: one.evidence)
        if best.evidence > _SURE:
            break
    return best


def _near(groups: Floats, length_px: float, count: float, q: float, fewest: float) -> Repeats:
    """Return the repeats that explain most at about one foreshortening."""
    most = length_px / NEAREST_PX
    # Fine enough for lines that come twelve times as often as the longest.
    qs = q * np.exp(np.arange(-0.03, 0.031, 0.004))
    gain = _gains(groups, qs, _PAD)
    counts = np.arange(fewest, max(4 * fewest, min(most / 1.5, 3 * count)), _STEP)
    evidence = _evidence(gain, counts, _PAD, most, int(most / FEWEST))
    total = _both_edges(evidence, GROUPS)
    of_count = total.max(axis=0)
    if of_count.max() <= 0:
        return NO_REPEATS
    column = _longest_lines(counts, of_count)
    row = int(total[:, column].argmax())
    found = float(counts[column])
    power = _power(groups, qs[row : row + 1], _PAD)[0]

    def evidence_at(other: float) -> float:
        near = np.abs(counts / other - 1) < 0.02
        return float(of_count[near].max()) if near.any() else 0.0

    return Repeats(
        count=found,
        foreshortening=float(qs[row]),
        evidence=float(of_count[column]),
        evidence_half=evidence_at(found / 2),
        evidence_twice=evidence_at(found * 2),
        halving=_halving(power, found, most),
        tenths=_stands_out(power, found, 10, (8, 12), most),
    )


def of_every_second(groups: Floats, length_px: float, repeats: Repeats) -> Repeats:
    """Return the repeats of every second of the lines that were counted."""
    count = repeats.count / 2
    if count < FEWEST:
        return NO_REPEATS
    of_second = replace(
        repeats,
        count=count,
        evidence=repeats.evidence_half,
        evidence_half=0.0,
        evidence_twice=repeats.evidence,
        is_of_every_second=True,
    )
    return divided_on(groups, length_px, of_second)


def divided_on(groups: Floats, length_px: float, repeats: Repeats) -> Repeats:
    """Return the repeats with how their steps are divided on these groups: of one edge or both."""
    most = length_px / NEAREST_PX
    power = _power(groups, np.array([repeats.foreshortening]), _PAD)[0]
    return replace(
        repeats,
        halving=_halving(power, repeats.count, most),
        tenths=_stands_out(power, repeats.count, 10, (8, 12), most),
    )


def _halving(power: Floats, count: float, most: float) -> float:
    return _stands_out(power, count, 4, (2, 6), most) + _stands_out(power, count, 8, (6,), most)


def _longest_lines(counts: Floats, of_count: Floats) -> int:
    """Return the index of the count of the longest lines, by the evidence for each count."""
    # Half and a third of the true count explain every peak too: take the largest that does.
    enough = np.flatnonzero(of_count >= _EXPLAINS * of_count.max())
    column = _top_near(counts, of_count, int(enough[-1]))
    halves = np.flatnonzero(np.abs(counts / counts[column] - 0.5) < 0.01)
    half = int(halves[of_count[halves].argmax()]) if len(halves) > 0 else column
    return half if of_count[half] > _HALF_LEADS * of_count[column] else column


def _top_near(counts: Floats, values: Floats, index: int) -> int:
    """Return the index of the highest value within 3 % of a count, down from it."""
    low = max(0, index - int(0.03 * counts[index] / _STEP))
    return low + int(values[low : index + 1].argmax())


def _stands_out(
    power: Floats, count: float, multiple: int, others: tuple[int, ...], most: float
) -> float:
    """Return how much clearer so many lines a step are than other even numbers of them (ln)."""
    if count * max(multiple, *others) >= min(most, power.shape[1] / _PAD - 1):
        return 0.0
    # The mean of each edge's zone shows lines of every length.
    zones = power[GROUPS - 1 :: GROUPS]

    def at(number: int) -> Floats:
        column = round(count * number * _PAD) - 1
        near = zones[:, max(0, column - _PAD // 2) : column + _PAD // 2 + 1]
        return np.asarray(np.log(near.max(axis=1) + 1.0))

    beside = np.mean([at(number) for number in others], axis=0)
    return float((at(multiple) - beside).max())
