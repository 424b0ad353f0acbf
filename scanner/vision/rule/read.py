"""A bar whose graduations were read, and whether it may be the told rule."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.rule.size import CM_MM, INCH_MM, usual_rules

if TYPE_CHECKING:
    from scanner.vision.cv import Floats
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.size import Verdict
    from scanner.vision.rule.ticks import Ticks

# Share of a rule's graduations that must be seen.
LEAST_SEEN = 0.5
# ... and of a rule of few steps where its ends do not confirm the told length: two thirds of
# twelve inches are as well all of eight.
LEAST_SEEN_OF_FEW = 0.8
# ... and of many steps on a bar that is just as long as told: a far end shows its lines no more.
LEAST_SEEN_AS_TOLD = 0.4
# How the steps must be divided where not all of them are seen (ln, `Repeats`): teeth and slats
# are even too.
LEAST_HALVING, LEAST_TENTHS = 0.7, 1.5
# By the law of a noise spectrum (`tick_spectrum`) plain noise at both edges is halved so much once
# in twenty looks, and as much as `LEAST_HALVING` two times in five.
PLAIN_HALVING = 1.6
# Keys, tiles and slats come in so small numbers too: these steps must be divided as a rule's are.
FEW_STEPS = 25.0
# A rule is longer than its graduations by its bare ends (hole, ferrule), hardly by more than this.
_MOST_BEYOND = 1.15
# Few rules are narrower or wider than this (common practice, no source): look for a better bar.
_NARROW_MM, _WIDE_MM = 14.0, 70.0
# How far a bar's end may be from where the first or last line puts it, in steps.
_AT_END = 0.4
# ... and by what share a bar's length may then be off: of eight steps or so many bars have about
# as many as told.
_LENGTH_SHARE = 0.03
# A told rule is so near a whole number of steps (24 in are 61 cm but for 0.04 of one).
_WHOLE = 0.05
# Six lines an inch cannot be parted any more from here on (2.3 px each).
_COARSEST_MM_PER_PX = 1.85
# Two readings of one thing give the same scale but for tilt; by more than this they disagree. They
# are of one thing where they lie side by side, no further apart than this share of their length.
_SAME_SCALE, _BESIDE_SHARE, _PARALLEL_DEG = 0.12, 0.4, 12.0
# ... and of one thing read twice it differs by no more than this (ln; two edges of a rule, seen
# aslant: 0.03).
_ONE_SCALE = 0.05
# Perspective alone seldom makes the scale at one place of a photo so unlike that at another (ln).
_OTHER_SCALE = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """A bar with graduations.

    Attributes
    ----------
    verdict
        What the graduations are taken for.
    ends
        Where the bar may start and stop, (2,) px each: its outlines differ in that.
    steps
        That the told rule has between its ends.
    """

    band: Band
    ticks: Ticks
    verdict: Verdict
    ends: tuple[tuple[Floats, Floats], ...]
    steps: float

    @property
    def evidence(self) -> float:
        """How clearly its lines repeat, as `Repeats` tells it."""
        return self.ticks.repeats.evidence

    @property
    def is_settled(self) -> bool:
        """Whether nothing more needs to be looked at."""
        return (
            self.passes
            and self.is_confirmed
            and self.verdict.is_decisive
            and self.is_usually_wide
            and (self.is_divided or self.ticks.are_clear)
        )

    @property
    def is_usually_wide(self) -> bool:
        """Whether this is all of a rule's width, not the bevel along its edge."""
        step_px = self.band.length / (self.number_of(self.band.stop) - self.ticks.number_at(0.0))
        wide_mm = self.band.width(0.5) / step_px * self.verdict.reading.step_mm
        return _NARROW_MM < wide_mm < _WIDE_MM

    @property
    def is_confirmed(self) -> bool:
        """Whether the told length agrees with the number of lines or with the bar's own ends."""
        return self.is_counted or (self.verdict.reading.seen >= self.least_seen and self.is_as_told)

    @property
    def is_counted(self) -> bool:
        """Whether all of the told rule's lines are there, and few of them between its ends.

        Twelve inches have 11 to 13 lines, and so have many things of which one end or both lie a
        step beyond the last line: on a real rule a drawing scale of 14 steps, its ends seen.
        """
        return self.verdict.is_whole and (
            self.steps >= FEW_STEPS or self.is_as_told or self.has_bare_ends
        )

    @property
    def has_bare_ends(self) -> bool:
        """Whether first and last line of the told rule are drawn, and less than a step beyond them.

        Where a whole step is bare, the bar's end may as well stand for one more line.
        """
        first, last = self.ticks.span
        return abs(last - first - self.steps) < _AT_END and any(
            first - self.number_of(start) < 1 - _AT_END
            and self.number_of(stop) - last < 1 - _AT_END
            for start, stop in self.ends
        )

    @property
    def least_seen(self) -> float:
        """Share of the told rule's lines that must be seen."""
        if self.steps >= FEW_STEPS:
            return LEAST_SEEN_AS_TOLD if self.is_as_told else LEAST_SEEN
        return LEAST_SEEN if self.is_as_told else LEAST_SEEN_OF_FEW

    @property
    def is_as_told(self) -> bool:
        """Whether the bar begins with a line's place and is as long as the told rule.

        Where that is no whole number of steps, longer or shorter than the next whole one: eight
        double centimetres passed for the 7.87 inches of 20 cm.
        """
        spans = [(self.number_of(start), self.number_of(stop)) for start, stop in self.ends]
        off_whole = abs(self.steps - round(self.steps))
        most = self.most_off_told if off_whole < _WHOLE else min(self.most_off_told, off_whole / 2)
        return any(
            abs(low - round(low)) < _AT_END and abs(high - low - self.steps) < most
            for low, high in spans
        )

    @property
    def most_off_told(self) -> float:
        """By how many steps a bar's length may differ from the told rule's."""
        return min(_AT_END, _LENGTH_SHARE * self.steps)

    @property
    def is_too_long(self) -> bool:
        """Whether the bar reaches far beyond the told rule: these are another thing's lines."""
        spans = [self.number_of(stop) - self.number_of(start) for start, stop in self.ends]
        return min(spans) > _MOST_BEYOND * self.steps + 1

    @property
    def is_divided(self) -> bool:
        """Whether its steps are divided as a rule's are.

        Of few steps a centimetre is divided in ten where that can be seen: that it seems halved is
        chance, or it is an inch. Of many steps their number speaks, and blur may hide tenths.
        """
        repeats = self.ticks.repeats
        if repeats.tenths >= LEAST_TENTHS:
            return True
        is_inch = self.verdict.reading.unit_mm == INCH_MM
        may_be_halved = is_inch or repeats.tenths == 0.0 or self.steps >= FEW_STEPS
        return repeats.halving >= LEAST_HALVING and may_be_halved

    @property
    def is_plainly_divided(self) -> bool:
        """Whether its steps are divided as noise hardly ever feigns it."""
        return self.is_divided and (
            self.ticks.repeats.halving >= PLAIN_HALVING or self.ticks.repeats.tenths >= LEAST_TENTHS
        )

    @property
    def is_otherwise_divided(self) -> bool:
        """Whether its steps are divided in ten rather than halved, and were yet taken for inches.

        Seen on real rules: twelve centimetres between two specks made the told twelve inches, and
        eight steps of a drawing scale the told 20 cm. On inches tenths stand below eighths.
        """
        repeats = self.ticks.repeats
        in_ten = repeats.tenths >= max(LEAST_TENTHS, repeats.halving)
        return in_ten and self.verdict.reading.unit_mm == INCH_MM

    @property
    def is_even_only(self) -> bool:
        """Whether nothing but evenness speaks: from so far off no rule shows how it is divided.

        Seen on a rendered floor: a crack of 39 even specks made the told metre, 3 mm per pixel.
        """
        return self.mm_per_px(0.5) > _COARSEST_MM_PER_PX and not self.is_divided

    @property
    def passes(self) -> bool:
        """Whether this may be the told rule."""
        if (
            self.is_even_only
            or self.is_too_long
            or self.is_otherwise_divided
            or not self.ticks.are_longest
        ):
            return False
        if self.verdict.is_whole and self.verdict.may_be_other_unit:
            return False
        if self.is_half_known:
            return False
        if self.verdict.is_whole and self.steps < FEW_STEPS:
            own = self.is_made_of_steps or self.is_plainly_divided
            return self.is_counted and self.is_divided and own
        if self.verdict.is_whole:
            return self.verdict.is_decisive or self.is_divided
        enough = self.least_seen <= self.verdict.reading.seen < 1
        return enough and self.verdict.is_decisive and self.is_divided and self.is_supposable

    @property
    def is_half_known(self) -> bool:
        """Whether few steps were counted as every second line, and nothing plainly divides them.

        Where every second line is the longer one every fourth may be the longest: the half inches
        of a rule of six made all of a told twelve, or two thirds of them.
        """
        of_second = self.ticks.repeats.is_of_every_second
        return self.steps < FEW_STEPS and of_second and not self.is_plainly_divided

    @property
    def is_supposable(self) -> bool:
        """Whether what is not seen of the told rule may be supposed.

        Where the steps are plainly divided, or the bar is just as long as told. Else not beside few
        faint lines; nor of a metre read in inches, for 39.37 of them make no rule; nor where the
        bar as it lies is a usual rule in the other unit: a whole one of 20 cm, not half a yard.
        """
        if self.is_as_told or self.is_plainly_divided:
            return True
        inches = self.verdict.reading.unit_mm == INCH_MM
        other = self._usual_of(CM_MM if inches else INCH_MM)
        return self.is_made_of_steps and self.ticks.are_clear and not other

    @property
    def is_made_of_steps(self) -> bool:
        """Whether the told rule is a whole number of these steps."""
        return abs(self.steps - round(self.steps)) < _WHOLE

    @property
    def usual(self) -> list[float]:
        """Lengths of usual rules that end where this bar and its graduations do, mm."""
        return self._usual_of(self.verdict.reading.step_mm)

    def _usual_of(self, step_mm: float) -> list[float]:
        out: list[float] = []
        for start, stop in self.ends:
            low, high = self.number_of(start), self.number_of(stop)
            first, last = self.ticks.span
            if abs(first - low - 1) < _AT_END and abs(high - last - 1) < _AT_END:
                out += usual_rules(high - low, step_mm)
        return sorted(set(out))

    def mm_per_px(self, share: float) -> float:
        """Return what a pixel along the bar is worth at a share of it, by this reading."""
        numbers = self.ticks.steps.numbers(np.array([share - 0.01, share + 0.01]))
        return (
            float(numbers[1] - numbers[0])
            * self.verdict.reading.step_mm
            / (0.02 * self.band.length)
        )

    def disagrees_with(self, other: Read) -> bool:
        """Whether another reading of the same thing gives it another scale.

        A rule's two edges may carry inches and centimetres, or the one of them a drawing scale;
        lines that make the same thing twice as large are misread on one of the two.
        """
        apart = self._scale_by(other)
        return apart is not None and apart > _SAME_SCALE

    def agrees_with(self, other: Read) -> bool:
        """Whether another reading of the same thing counts the same steps at the same scale."""
        apart = self._scale_by(other)
        same_step = self.verdict.reading.step_mm == other.verdict.reading.step_mm
        return other is not self and apart is not None and apart < _ONE_SCALE and same_step

    def is_shown_otherwise(self, other: Read) -> bool:
        """Whether another outline of the same thing shows the same steps divided otherwise."""
        if not (other.is_otherwise_divided and other.ticks.are_longest):
            return False
        apart = self._scale_by(other)
        same_unit = self.verdict.reading.unit_mm == other.verdict.reading.unit_mm
        return apart is not None and apart < _SAME_SCALE and same_unit

    def _scale_by(self, other: Read) -> float | None:
        """Return how far (ln) another reading's scale is off this one's, None of another thing."""
        step = (other.band.stop - other.band.start) / other.band.length
        own = (self.band.stop - self.band.start) / self.band.length
        if abs(float(step @ own)) < math.cos(math.radians(_PARALLEL_DEG)):
            return None
        middle = self.band.centre(0.5) - other.band.start
        share = float(middle @ step) / other.band.length
        beside = abs(float(middle @ np.array([step[1], -step[0]])))
        if not 0.05 < share < 0.95 or beside > _BESIDE_SHARE * other.band.length:
            return None
        return abs(math.log(self.mm_per_px(0.5) / other.mm_per_px(share)))

    def number_of(self, pixel: Floats) -> float:
        """Return the number of a place near the bar, px."""
        step = (self.band.stop - self.band.start) / self.band.length**2
        return self.ticks.number_at(float((pixel - self.band.start) @ step))


def is_outshone(one: Read, read: list[Read]) -> bool:
    """Return whether clear graduations in the photo have another scale than a doubtful reading.

    Seen on a real picture: two dozen even specks on the table made the told ten inches, beside a
    rule of eight whose lines said so; and five lines along an edge made six inches. Not where clear
    lines of the same thing give its own scale: keys beside a rule of 20 cm had more of them.
    """
    clear = [other for other in read if other.ticks.are_clear and other.ticks.are_longest]
    if one.is_confirmed and one.is_divided:
        if one.steps >= FEW_STEPS or one.ticks.are_clear:
            return False
        if any(one.agrees_with(other) for other in clear):
            return False
    return any(
        other.evidence > one.evidence
        and abs(math.log(one.mm_per_px(0.5) / other.mm_per_px(0.5))) > _OTHER_SCALE
        for other in clear
    )
