"""Read the graduations of a plain rule: how many there are, and where each one lies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.rule.division import division
from scanner.vision.rule.even_sides import uneven_side, unsure_sides
from scanner.vision.rule.lines_near import extent, lines_near
from scanner.vision.rule.step_map import StepMap
from scanner.vision.rule.tick_signal import GROUPS, TickSignal, tick_signal
from scanner.vision.rule.tick_spectrum import (
    NO_REPEATS,
    Repeats,
    divided_on,
    find_repeats,
    of_every_second,
    rough_evidence,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Bytes, Floats
    from scanner.vision.rule.band import Band

# Evidence from which repeats are taken for graduations: on rendered photos rules reach 400 to
# 1100, boards, joints and shadows stay under 130.
BELIEVED, _SURE = 180.0, 450.0
# Where no lines stand at a count's places, so many times as many are looked for.
_FINER = 1.5
# Share of a bar's length over which a rule's lines reach where nothing hides them (half inches of a
# rule in grass: 0.14, a real rule with a jaw over its end 0.9).
_LEAST_FILLED = 0.8
# Student's t by which the longest lines must lead: about one chance in twenty.
_LEAST_LEAD = 2.0
_QUICK_DEPTHS = (3, 6)
# Columns over a whole bar.
_NO_SLANT = 1e-6
_BINS = 40
# Of an edge's lines so many are seen where it is graduated like the other.
_LEAST_OF_EDGE = 0.3
# Where a line is looked for about its place, in steps: at first, and once the map is known.
_REACH, _CLOSE = 0.2, 0.1
# Every second line is a longer one where it leads in so large a share of pairs, and by so many
# standard deviations of what chance does (some fifteen looks: two edges, seven depths).
_FEWEST_EACH, _LEAST_ALTERNATING, _LEAST_CHANCE = 5, 0.9, 3.0
# ... or where their mean leads by so many standard errors; lines are that uneven at least.
_LEAST_APART, _LEAST_SPREAD = 9.0, 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Graduations along a band, counted from the line at its start (0).

    Attributes
    ----------
    repeats
        How clearly they show.
    numbers, heights, shares, pixels
        Each graduation read: its number, where across the bar it was read (-0.5 at the lower edge
        to 0.5 at the upper one), its share of the band, (N, 2) px.
    steps
        Which number lies where.
    lead
        How surely the longest lines lead all other ones of a step (Student's t, better edge).
    slant, fan
        Share of the band that a line is shifted from the lower edge to the upper one: at the
        middle, and how much more at the end than at the start.
    is_light
        Light lines on a dark bar.
    unsure
        Sides (-1: lower edge, 1: upper one) whose lines stand anyhow: no edge of a rule.
    """

    repeats: Repeats
    numbers: NDArray[np.int_]
    heights: Floats
    shares: Floats
    pixels: Floats
    steps: StepMap
    lead: float
    slant: float
    fan: float
    is_light: bool
    unsure: tuple[float, ...] = ()

    def number_at(self, share: float) -> float:
        """Return the number, in steps with fractions, at a share of the band."""
        return float(self.steps.numbers(np.array([share]))[0])

    def share_of(self, number: float, height: float = 0.0) -> float:
        """Return the share of the band where a line lies, ``height`` across it."""
        share = float(self.steps.shares(np.array([number]))[0])
        return share + height * (self.slant + self.fan * (share - 0.5))

    def renumbered(self, shift: int) -> Ticks:
        """Return the same graduations with so much added to each number."""
        return replace(self, numbers=self.numbers + shift, steps=self.steps.moved(shift))

    def within(self, most: int) -> Ticks:
        """Return the graduations of the fullest stretch of so many numbers."""
        starts = np.unique(self.numbers)
        inside = [(self.numbers >= low) & (self.numbers < low + most) for low in starts]
        return self._only(max(inside, key=lambda one: int(one.sum())))

    def between(self, low: int, high: int) -> Ticks:
        """Return the graduations from one number to another."""
        return self._only((self.numbers >= low) & (self.numbers <= high))

    def _only(self, keep: NDArray[np.bool_]) -> Ticks:
        return replace(
            self,
            numbers=self.numbers[keep],
            heights=self.heights[keep],
            shares=self.shares[keep],
            pixels=self.pixels[keep],
        )

    @property
    def is_filled(self) -> bool:
        """Whether the graduations read reach over most of the bar."""
        first, last = self.span
        bar = self.number_at(1.0) - self.number_at(0.0)
        return last - first > _LEAST_FILLED * bar

    @property
    def is_believed(self) -> bool:
        """Whether these are graduations at all."""
        return self.repeats.evidence >= BELIEVED and len(np.unique(self.numbers)) >= 4

    @property
    def are_clear(self) -> bool:
        """Whether they repeat as only a rule's graduations do."""
        return self.repeats.evidence >= _SURE

    @property
    def are_longest(self) -> bool:
        """Whether the lines read stand out from every other place in a step."""
        return self.lead >= _LEAST_LEAD

    @property
    def span(self) -> tuple[int, int]:
        """Numbers of the first and last graduation read."""
        return int(self.numbers.min()), int(self.numbers.max())


def quick_evidence(grey: Bytes, band: Band) -> float:
    """Return quickly about how clearly anything repeats along a band as graduations do."""
    signal = tick_signal(grey, band, slanted=False, quick=True)
    return rough_evidence(signal.groups(_QUICK_DEPTHS), band.length)


def full_evidence(grey: Bytes, band: Band) -> float:
    """Return the same from every depth and every half pixel, in some ten times the time."""
    return rough_evidence(tick_signal(grey, band, slanted=False).groups(), band.length)


def read_ticks(grey: Bytes, band: Band) -> Ticks | None:
    """Return the graduations on a band, dark ones or light ones, whichever make a rule, or None."""
    best: Ticks | None = None
    # Shadows and grass can feign a slant, and some rules carry light lines on a dark ground.
    for slanted in (True, False):
        dark = tick_signal(grey, band, slanted=slanted)
        for signal in (dark, dark.inverted()):
            ticks = _counted(signal, band, is_light=signal is not dark)
            if ticks is not None and (best is None or _rank(ticks) > _rank(best)):
                best = ticks
            if best is not None and best.are_longest and best.are_clear:
                return best
        if best is not None and best.are_longest and best.is_believed:
            return best
        if abs(dark.slant) + abs(dark.fan) < _NO_SLANT:
            # Seen straight across it would be the same once more.
            return best
    return best


def read_edges(grey: Bytes, band: Band, known: Ticks) -> list[Ticks]:
    """Return the graduations of either edge of a band alone, where there are any, as slanted."""
    signal = tick_signal(grey, band, light=known.is_light, slanted=known.slant != 0.0)
    found = []
    for side in (1.0, -1.0):
        own = signal.of_edge(side)
        ticks = _counted(own, band, is_light=known.is_light)
        if ticks is not None and ticks.is_believed and ticks.are_longest:
            found.append(_divided(ticks, own, band))
    return found


def _divided(ticks: Ticks, signal: TickSignal, band: Band) -> Ticks:
    """Return graduations with how their steps are divided, by where each of them was read."""
    # An edge on which no lines were read has noise to tell of.
    groups = signal.groups()
    for side, rows in ((1.0, slice(0, GROUPS)), (-1.0, slice(GROUPS, None))):
        if not (np.sign(ticks.heights) == side).any():
            groups[rows] = 0.0
    halving, tenths = division(groups, ticks.steps, band.length)
    return replace(ticks, repeats=replace(ticks.repeats, halving=halving, tenths=tenths))


def _rank(ticks: Ticks) -> tuple[bool, float]:
    return ticks.is_believed and ticks.are_longest, ticks.repeats.evidence


def _counted(signal: TickSignal, band: Band, *, is_light: bool) -> Ticks | None:
    groups = signal.groups()
    repeats = find_repeats(groups, band.length)
    ticks = _of_count(signal, groups, band, repeats, is_light=is_light)
    slow = band.length / band.width(0.5)
    if ticks is None and repeats.evidence >= BELIEVED and repeats.count < slow:
        # Waves of light longer than the bar is wide explain much, but no lines stand there.
        repeats = find_repeats(groups, band.length, _FINER * repeats.count)
        finer = _of_count(signal, groups, band, repeats, is_light=is_light)
        # Smaller steps explain something anywhere: their lines must reach over the bar.
        ticks = finer if finer is not None and finer.is_filled else None
    return ticks and _divided_as_graduated(ticks, groups, band)


def _of_count(
    signal: TickSignal, groups: Floats, band: Band, repeats: Repeats, *, is_light: bool
) -> Ticks | None:
    """Return the graduations that repeat so, if they stand there; ``groups`` of the signal."""
    if repeats == NO_REPEATS:
        return None
    steps = StepMap(repeats.foreshortening, (repeats.count, 0.0))
    # Counted from the bar's start: where it begins with the rule the phase is about nothing.
    steps = steps.moved(-_phase(groups, steps)[0])
    ticks = _read(signal, groups, band, repeats, steps, is_light=is_light)
    if ticks is not None and is_every_second_longer(groups, ticks):
        repeats = of_every_second(groups, band.length, repeats)
        if repeats == NO_REPEATS:
            return replace(ticks, lead=0.0)
        steps = ticks.steps.halved()
        steps = steps.moved(-_phase(groups, steps)[0])
        ticks = _read(signal, groups, band, repeats, steps, is_light=is_light)
    return ticks


def _divided_as_graduated(ticks: Ticks, groups: Floats, band: Band) -> Ticks:
    """Return graduations with how their steps are divided at the edges that carry them."""
    # Sixteenths at the other edge halved thirty centimetres, which made the told thirty inches.
    of_edge = [int((np.sign(ticks.heights) == side).sum()) for side in (1.0, -1.0)]
    if min(of_edge) >= _LEAST_OF_EDGE * max(of_edge):
        return ticks
    own = groups[:GROUPS] if of_edge[0] > of_edge[1] else groups[GROUPS:]
    return replace(ticks, repeats=divided_on(own, band.length, ticks.repeats))


def is_every_second_longer(groups: Floats, ticks: Ticks) -> bool:
    """Return whether at some depth every second line counted leads those beside it.

    Then they are halves: half a step's lines explain nearly as much as a whole one's, and of a
    rule told twice as long their number agrees.
    """
    last = groups.shape[1] - 1
    low, high = ticks.span
    numbers = np.arange(low, high + 1)
    around = (ticks.steps.shares(numbers[:, None] + np.array([-_CLOSE, _CLOSE])) * last).clip(
        0, last
    )
    inside = (around[:, 1] > around[:, 0]) & (around[:, 0] > 0) & (around[:, 1] < last)
    numbers, around = numbers[inside], np.rint(around[inside]).astype(np.int_)
    even = numbers % 2 == 0
    few = min(int(even.sum()), int((~even).sum()))
    if few < _FEWEST_EACH:
        return False
    seen = np.array([groups[:, start : stop + 1].max(axis=1) for start, stop in around])
    # Share of pairs, an even and an odd line, in which the even one is the longer (Mann, Whitney).
    first, second = seen[even][:, None], seen[~even][None]
    share = (first > second).mean(axis=(0, 1)) + (first == second).mean(axis=(0, 1)) / 2
    leads = np.abs(share - 0.5)
    chance = np.sqrt((len(numbers) + 1) / (12 * even.sum() * (~even).sum()))
    sure = leads > _LEAST_CHANCE * float(chance)
    # Of few lines ranks alone are never sure: by how much they differ is (Welch's t).
    spread = np.sqrt(seen[even].var(axis=0) / even.sum() + seen[~even].var(axis=0) / (~even).sum())
    apart = np.abs(seen[even].mean(axis=0) - seen[~even].mean(axis=0))
    sure |= apart > _LEAST_APART * np.maximum(spread, _LEAST_SPREAD)
    return bool(((leads > _LEAST_ALTERNATING - 0.5) & sure).any())


def carry_on(grey: Bytes, ticks: Ticks, longer: Band, before: float, after: float) -> Ticks | None:
    """Return the same graduations on a bar made longer by shares at its start and its end."""
    signal = tick_signal(grey, longer, light=ticks.is_light)
    steps = ticks.steps.stretched(before, after)
    return _read(signal, signal.groups(), longer, ticks.repeats, steps, is_light=ticks.is_light)


def _read(
    signal: TickSignal,
    groups: Floats,
    band: Band,
    repeats: Repeats,
    steps: StepMap,
    *,
    is_light: bool,
) -> Ticks | None:
    """Return every line near where the map says it is, on both edges."""
    _, chosen, lead = _phase(groups, steps)
    last = signal.columns - 1
    uneven: tuple[float, ...] = ()
    # Twice more with what the look before taught: the spectrum's map is loose at the far ends.
    for reach in (_REACH, _REACH, _CLOSE):
        lines = lines_near(signal, groups, chosen, steps, reach)
        if len(lines.numbers) < 4:
            return None
        if len(chosen) == 2 and (
            side := uneven_side(
                lines.numbers, lines.heights, lines.columns / last, steps, band.length
            )
        ):
            # What stands anyhow, another unit's lines say, would bend the map of those that do not.
            uneven, chosen = (side,), [chosen[0 if side < 0 else 1]]
            lines = lines_near(signal, groups, chosen, steps, reach)
        steps, keep = steps.fitted(lines.columns / last, lines.numbers)
    low, high = extent(lines, keep)
    keep &= (lines.numbers >= low) & (lines.numbers <= high)
    kept = lines.numbers[keep], lines.heights[keep], lines.columns[keep] / last
    unsure = uneven + unsure_sides(*kept, steps, band.length)
    keep &= ~np.isin(np.sign(lines.heights), unsure)
    if keep.sum() < 4:
        return None
    numbers, columns, heights = lines.numbers[keep], lines.columns[keep], lines.heights[keep]
    shares = np.array([signal.share(c, h) for c, h in zip(columns, heights, strict=True)])
    pixels = np.array(
        [band.place(float(s), float(h)) for s, h in zip(shares, heights, strict=True)]
    )
    return Ticks(
        repeats,
        numbers,
        heights,
        shares,
        pixels.reshape(-1, 2),
        steps,
        lead,
        signal.slant / last,
        signal.fan / last,
        is_light,
        unsure,
    )


def _phase(groups: Floats, steps: StepMap) -> tuple[float, list[int], float]:
    """Return where in a step the longest lines stand, the clearest groups, and their lead.

    The place is -0.5 to 0.5 of a step; the groups are one of each edge.
    """
    columns = groups.shape[1]
    number = steps.numbers(np.arange(columns) / (columns - 1))
    place = np.floor((number % 1.0) * _BINS).astype(np.int_) % _BINS
    each = np.maximum(np.bincount(place, minlength=_BINS), 1)
    total = np.array([np.bincount(place, weights=row, minlength=_BINS) for row in groups]) / each
    # A line is about a sixteenth of a step wide: three bins.
    folded = (np.roll(total, 1, axis=1) + total + np.roll(total, -1, axis=1)) / 3
    count = max(1.0, float(number[-1] - number[0]))
    noise = groups.std(axis=1) / np.sqrt(count) + 1e-6
    away = np.abs((np.arange(_BINS)[:, None] - np.arange(_BINS) + _BINS / 2) % _BINS - _BINS / 2)
    rest = np.where(away[None] > 0.11 * _BINS, folded[:, None, :], -np.inf).max(axis=2)
    leads = (folded - rest) / noise[:, None]
    best = int(leads.max(axis=1).argmax())
    peak = int(leads[best].argmax())
    chosen = []
    for side in (0, 1):
        rows = range(side * GROUPS, (side + 1) * GROUPS)
        near = [(peak + shift) % _BINS for shift in (-2, -1, 0, 1, 2)]
        chosen.append(max(rows, key=lambda row: float(leads[row, near].max())))
    phase = (peak + 0.5) / _BINS
    return (phase - 1.0 if phase > 0.5 else phase), chosen, float(leads[best, peak])
