"""Which rule lies there: its graduations weighed against all that they could be.

Graduations alone say how often they repeat, not what a step is. So every reading (a step is an
inch or a centimetre; the lines that were counted are the long ones, every second one, or halves)
is weighed by what else is seen: how a step is divided, how many steps there are, how wide the
rule is in steps, how far away the camera would have stood. One factor of two costs each of these,
so a false reading loses clearly or the verdict says that it could not tell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from scanner.units import MM_PER_INCH

if TYPE_CHECKING:
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.ticks import Ticks
    from scanner.vision.setup import RuleSize

INCH_MM, CM_MM = MM_PER_INCH, 10.0
# Rules that are sold (common practice, no source): length, step between long graduations.
USUAL_RULES = tuple(
    [(inches * INCH_MM, INCH_MM) for inches in (6, 12, 18, 24, 36, 48, 60, 72)]
    + [(cm * CM_MM, CM_MM) for cm in (15, 20, 30, 40, 50, 60, 100, 120, 150, 200)]
)
# Steel rules are 25 to 32 mm wide, wooden ones up to 40 (common practice, no source): sd of ln.
USUAL_WIDTH_MM, _SD_WIDTH = 29.0, 0.35
# A told width is seen shortened by tilt, and so is the length: sd of ln.
_SD_TOLD_WIDTH = 0.25
# A camera over a board stands about this far off: sd of ln.
_USUAL_AWAY_MM, _SD_AWAY = 1900.0, 0.55
# ln of odds that nothing overrules; and that a rule is told as another one, which by itself is no
# reason to take a usual rule's centimetres for inches.
_DISPROVED, _MISTOLD = -12.0, -3.0
# ln of odds by which the best reading must lead.
DECISIVE = 4.0
# Share of its lines that may be missed at a rule's ends (usual rules of one kind differ by 17 % and
# more), and that specks may add.
_TOO_FEW, _TOO_MANY = 0.09, 0.01
# Half and twice the count explain what is seen less well than the count itself, or they would have
# been taken; where one explains so much more, the count is less sure to be the longest lines'
# (half of a drawn metre's centimetres reaches 1.02).
_MISREAD, _NEARLY_MISREAD, _LEADS = -20.0, -6.0, 1.05
# Steps halved again and again reach 1 to 5 (drawn and rendered rules), steps of
# centimetres 0.
_HALVED, _PER_HALVING = 0.5, 2.0
# ... but where only the told length else speaks for inches, noise must not: it reached 1.9 on
# lines of centimetres alone, inches that are divided in sixteenths 2.6 and more.
_PLAINLY_HALVED = 2.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read the graduations of a bar.

    Attributes
    ----------
    step_mm
        What a step between the lines that were counted is worth.
    seen
        Lines seen over the lines that the told rule has between its ends.
    odds
        ln of odds, comparable between the readings of one bar.
    """

    step_mm: float
    unit_mm: float
    seen: float
    odds: float

    @property
    def text(self) -> str:
        """The reading in a few words."""
        unit = "inches" if self.unit_mm == INCH_MM else "centimetres"
        times = self.step_mm / self.unit_mm
        return unit if times == 1 else f"half {unit}" if times < 1 else f"every second {unit}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the graduations of a bar are taken for.

    Attributes
    ----------
    reading, second
        The likeliest reading, and the next that would give another scale.
    margin
        ln of odds of the one over the other.
    over_other_unit
        The same over a usual rule of the other unit, whatever was told; infinite where none has so
        many lines.
    """

    reading: Reading
    second: Reading
    margin: float
    over_other_unit: float = math.inf

    @property
    def is_decisive(self) -> bool:
        """Whether no other reading is nearly as likely."""
        return self.margin >= DECISIVE

    @property
    def may_be_other_unit(self) -> bool:
        """Whether a usual rule of the other unit is nearly as likely."""
        return self.over_other_unit < DECISIVE

    @property
    def disproves_told(self) -> bool:
        """Whether more graduations are seen than the told rule has."""
        return self.reading.seen > 1.0 and self.reading.odds <= _DISPROVED / 2

    @property
    def is_whole(self) -> bool:
        """Whether all graduations of the told rule are seen, so that their number agrees."""
        return self.reading.seen == 1.0


def judge(ticks: Ticks, band: Band, size: RuleSize, focal_px: float | None = None) -> Verdict:
    """Return what graduations are taken for, and how surely.

    Parameters
    ----------
    size
        The rule as told; its width may be unknown.
    focal_px
        Of the camera by EXIF, or None.
    """
    repeats = ticks.repeats
    first, last = ticks.span
    step_px = band.length / (ticks.number_at(0.51) - ticks.number_at(0.49)) * 0.02
    halving = repeats.halving - max(0.0, repeats.tenths)
    halved, plainly = (
        max(-4.0, min(4.0, _PER_HALVING * (halving - least)))
        for least in (_HALVED, _PLAINLY_HALVED)
    )
    half_leads = repeats.evidence_half > _LEADS * repeats.evidence
    twice_leads = repeats.evidence_twice > _LEADS * repeats.evidence
    misread = {
        1.0: 0.0,
        0.5: _NEARLY_MISREAD if half_leads else _MISREAD,
        2.0: _NEARLY_MISREAD if twice_leads else _MISREAD,
    }
    readings: list[Reading] = []
    usual: dict[float, float] = {}
    for unit, times in product((INCH_MM, CM_MM), (1.0, 0.5, 2.0)):
        step = unit * times
        odds = misread[times] + (halved if unit == INCH_MM else -halved)
        odds += _width_odds(band.width(0.5) / step_px * step, size.width_mm)
        if focal_px is not None:
            away = focal_px * step / step_px
            odds -= 0.5 * (math.log(away / _USUAL_AWAY_MM) / _SD_AWAY) ** 2
        seen = _seen_share(last - first + 1, size.length_mm / step)
        not_as_told = _DISPROVED if seen > 1 else 0.0 if seen == 1 else -2.0 - 10.0 * (1 - seen)
        readings.append(Reading(step, unit, seen, odds + not_as_told))
        if times == 1.0 and _is_usual(last - first + 1, unit):
            doubtful = halved - plainly if unit == INCH_MM else plainly - halved
            usual[unit] = odds - doubtful + max(not_as_told, _MISTOLD)
    readings.sort(key=lambda one: -one.odds)
    second = next(r for r in readings if abs(r.step_mm / readings[0].step_mm - 1) > 0.05)
    best = readings[0]
    others = [odds for unit, odds in usual.items() if unit != best.unit_mm]
    doubtful = halved - plainly if best.unit_mm == INCH_MM else plainly - halved
    over_other_unit = best.odds - doubtful - max(others, default=-math.inf)
    return Verdict(best, second, best.odds - second.odds, over_other_unit)


def _is_usual(lines: int, unit_mm: float) -> bool:
    """Return whether a usual rule has so many lines, give or take."""
    return any(
        step == unit_mm and _seen_share(lines, length / step) == 1.0 for length, step in USUAL_RULES
    )


def _width_odds(width_mm: float, told_mm: float | None) -> float:
    usual, sd = (USUAL_WIDTH_MM, _SD_WIDTH) if told_mm is None else (told_mm, _SD_TOLD_WIDTH)
    return max(_DISPROVED, -0.5 * (math.log(width_mm / usual) / sd) ** 2)


def _seen_share(lines: int, steps: float) -> float:
    """Return lines seen over lines that a rule of so many steps has; 1: as many, give or take."""
    # Lines 0 and the last one lie at the ends, where they are seen or not.
    fewest, most = math.ceil(steps - 1e-3) - 1, math.floor(steps + 1e-3) + 1
    if lines > most + max(0.5, _TOO_MANY * steps):
        return lines / most
    return 1.0 if lines >= fewest - max(1.0, _TOO_FEW * steps) else lines / fewest


def usual_rules(steps: float, step_mm: float) -> list[float]:
    """Return the lengths, mm, of usual rules with so many steps between their ends."""
    return [
        length
        for length, step in USUAL_RULES
        if step == step_mm and abs(length / step - steps) < 0.35 + 0.004 * steps
    ]
