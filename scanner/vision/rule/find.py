"""Find a plain rule: a bar whose graduations say which rule it is."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import chain, islice
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.vision.cv import Bytes, Floats, shrunk
from scanner.vision.rule.bars import bars_in
from scanner.vision.rule.follow_band import STOUTEST, follow_band, straight_band
from scanner.vision.rule.marks import marks_of_bar, marks_of_graduations
from scanner.vision.rule.read import Read
from scanner.vision.rule.size import USUAL_WIDTH_MM, judge
from scanner.vision.rule.taps import refine_taps
from scanner.vision.rule.ticks import carry_on, quick_evidence, read_ticks

if TYPE_CHECKING:
    from scanner.vision.evidence.seen import SeenRule
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.ticks import Ticks
    from scanner.vision.setup import Corners, RuleSize, Setup

# Edges are looked for at about this size: graduations closer than a pixel then do not break them.
WORK_SIDE_PX = 1800
# ... and at a glance never at more than this: the smaller photo must not cost more.
GLANCE_SIDE_PX = 1632
# Quick evidence from which a bar is read with care (rendered rules reach 200, other bars 90), and
# from which it is read before any other bar is looked at.
WORTH_READING, CLEARLY_ONE = 110.0, 170.0
# Bars that are read with care where none was clear.
MOST_READ = 4
NARROWEST_PX = 6.0
# Bars are alike from this share of each other's width and length on.
_ALIKE = 0.8
# The first and the last line of a rule may lie at its very ends: more missing are worth a look.
_MISSING_STEPS = 2.5
# So many bars are looked at before one is read: at a glance the likeliest of those that show at
# half size; else the likeliest that waits.
GLANCED_AT = 6
MEND = (
    "lay the rule flat beside the board, all of it in view and not farther than about 1 mm per "
    "pixel, and take the photo again, or tap its four corners"
)


def find_rules(
    name: str,
    grey: Bytes,
    setup: Setup,
    corners: Corners | None = None,
    focal_px: float | None = None,
    *,
    at_a_glance: bool = False,
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
    focal_px
        Of the camera by EXIF, or None.
    at_a_glance
        Look only at what shows first, in a tenth of the time that a photo without a rule costs.

    Raises
    ------
    PhotoError
        No rule, or graduations that disprove its size.
    """
    size = setup.rule
    if size is None:
        raise ValueError("find_rules needs the size of a rule in the setup")
    if corners is not None:
        first = _tapped(name, grey, size, np.array(corners, dtype=np.float64), focal_px)
        return ((first,),)
    wanted = 1 if setup.rule2 is None else 2
    read = _read_bars(grey, size, wanted, focal_px, at_a_glance=at_a_glance)
    fitting = sorted(_undisputed(read), key=_likelihood)
    fitting = [one for one in fitting if one.is_settled] or fitting
    if not fitting:
        _refuse_other_size(name, read, size)
        if at_a_glance:
            seen = f"No reference rule is seen at a glance in {name}; a scan looks longer"
            raise PhotoError(seen, MEND)
        raise PhotoError(f"No reference rule found in {name}, so there is no scale", MEND)
    if not fitting[0].is_confirmed:
        _refuse_other_size(name, fitting[:1], size)
    if setup.rule2 is None:
        return tuple((_seen(one, size),) for one in fitting)
    best = fitting[0]
    rest = [one for one in read if _apart(one.band, best.band)]
    rest = [_judged_as(one, setup.rule2, focal_px) for one in rest]
    rest = sorted((one for one in rest if one.passes), key=_likelihood)
    if not rest:
        raise PhotoError(f"Only one rule found in {name}, two were announced", MEND)
    return ((_seen(best, size), _seen(rest[0], setup.rule2)),)


def _undisputed(read: list[Read]) -> list[Read]:
    """Return what may be the told rule and no clearer reading of the same thing contradicts."""
    clear = [one for one in read if one.ticks.are_clear and one.ticks.are_longest]
    return [
        one
        for one in read
        if one.passes
        and not any(
            other.ticks.repeats.evidence > one.ticks.repeats.evidence
            and len(other.ticks.numbers) > len(one.ticks.numbers)
            and one.disagrees_with(other)
            for other in clear
        )
    ]


def _likelihood(one: Read) -> tuple[bool, float]:
    return not one.is_confirmed, -one.ticks.repeats.evidence


def _apart(first: Band, second: Band) -> bool:
    gap = first.centre(0.5) - second.centre(0.5)
    return float(np.linalg.norm(gap)) > 2 * max(first.width(0.5), second.width(0.5))


def _read_bars(
    grey: Bytes, size: RuleSize, wanted: int, focal_px: float | None, *, at_a_glance: bool
) -> list[Read]:
    """Return the bars of a picture that carry graduations."""
    factor = max(1.0, round(max(grey.shape) / WORK_SIDE_PX))
    if at_a_glance:
        factor = max(factor, max(grey.shape) / GLANCE_SIDE_PX)
    small = shrunk(grey, factor) if factor > 1 else grey
    aspect = size.length_mm / (size.width_mm or USUAL_WIDTH_MM)
    read: list[Read] = []
    waiting: list[tuple[float, list[Band]]] = []
    looked_at = 0
    for start, stop, wide in chain.from_iterable(
        islice(bars_in(small, aspect), 1 if at_a_glance else None)
    ):
        ends = (np.array([start, stop]) + 0.5) * factor - 0.5
        if wide * factor < NARROWEST_PX or any(_covers(one.band, ends) for one in read):
            continue
        if any(_is_again(bands[0], ends, wide * factor) for _, bands in waiting):
            continue
        if not _facing_right(ends[0], ends[1]):
            ends = ends[::-1]
        bands = follow_band(grey, ends[0], ends[1], wide * factor)
        bands = [band for band in bands if band.length > STOUTEST * band.width(0.5)]
        looked_at += 1
        evidence = quick_evidence(grey, bands[0]) if bands else 0.0
        if evidence >= CLEARLY_ONE:
            if at_a_glance:
                one = _judged(grey, bands[0], size, focal_px, at_a_glance=True)
                return [one] if one is not None else []
            one = _read_bar(grey, bands, size, focal_px)
            read += [one] if one is not None else []
        elif bands:
            waiting.append((evidence, bands))
        if looked_at == GLANCED_AT:
            # A rule seen from afar is clear to nobody, but it is among the first.
            if at_a_glance:
                break
            read += _read_likeliest(grey, waiting, read, 1, size, focal_px)
        if sum(one.is_settled for one in read) >= wanted:
            return read
    if at_a_glance:
        likely = [one for one in waiting if one[0] >= WORTH_READING]
        for _, bands in sorted(likely, key=lambda one: -one[0])[:1]:
            first = _judged(grey, bands[0], size, focal_px, at_a_glance=True)
            read += [first] if first is not None else []
        return read
    return read + _read_likeliest(grey, waiting, read, MOST_READ, size, focal_px)


def _read_likeliest(
    grey: Bytes,
    waiting: list[tuple[float, list[Band]]],
    read: list[Read],
    most: int,
    size: RuleSize,
    focal_px: float | None,
) -> list[Read]:
    """Return what the likeliest bars that wait say; they wait no more."""
    waiting.sort(key=lambda one: -one[0])
    likely = [one for one in waiting[:most] if one[0] >= WORTH_READING]
    del waiting[: len(likely)]
    found: list[Read] = []
    for _, bands in likely:
        ends = np.array([bands[0].start, bands[0].stop])
        if not any(_covers(one.band, ends) for one in (*read, *found)):
            one = _read_bar(grey, bands, size, focal_px)
            found += [one] if one is not None else []
    return found


def _is_again(band: Band, ends: Floats, wide: float) -> bool:
    """Return whether a bar between two ends is as one that was looked at already."""
    again = _covers(band, ends) and _ALIKE < wide / band.width(0.5) < 1 / _ALIKE
    return again and float(np.linalg.norm(ends[1] - ends[0])) < band.length / _ALIKE


def _covers(band: Band, ends: Floats) -> bool:
    """Return whether a bar between two ends lies along one that is known."""
    step = (band.stop - band.start) / band.length
    off = ends - band.start
    across = np.abs(off @ np.array([step[1], -step[0]]))
    along = off @ step
    inside = (along > -0.1 * band.length) & (along < 1.1 * band.length)
    return bool((across < 0.6 * band.width(0.5)).all() and inside.all())


def _facing_right(start: Floats, stop: Floats) -> bool:
    """Return whether a rule runs left to right, or upwards where it stands more than it lies."""
    step = stop - start
    return bool(step[0] > 0 if abs(step[0]) >= abs(step[1]) else step[1] < 0)


def _read_bar(
    grey: Bytes, bands: list[Band], size: RuleSize, focal_px: float | None
) -> Read | None:
    """Return the graduations of a bar, from that of its outlines on which most of them lie."""
    best: Read | None = None
    for band in bands:
        one = _judged(grey, band, size, focal_px)
        if one is None:
            continue
        if best is None or len(one.ticks.numbers) > len(best.ticks.numbers):
            best = one
        if best.is_settled and best.is_as_told:
            return best
    if best is None or best.verdict.reading.seen > 1 or best.is_as_told:
        return best
    if best.usual and not best.verdict.is_whole:
        return best
    if not (best.is_divided and best.verdict.is_decisive):
        return best
    # Shade, a leaf or a bright floor ends a bar too early: look whether its steps go on.
    if best.steps - (best.ticks.span[1] - best.ticks.span[0]) < _MISSING_STEPS:
        return best
    before, after = _lacking(grey, best)
    longer = best.band.extended(before, after)
    again = carry_on(grey, best.ticks, longer, before, after)
    if again is None or len(again.numbers) <= len(best.ticks.numbers):
        return best
    # It was made longer on the word of the told length alone, so it cannot disprove it.
    ticks = again.within(math.floor(best.steps + 1e-3) + 1)
    ends = tuple((band.start, band.stop) for band in bands)
    verdict = judge(ticks, longer, size, focal_px)
    return Read(longer, ticks, verdict, ends, size.length_mm / verdict.reading.step_mm)


def _judged_as(one: Read, size: RuleSize, focal_px: float | None) -> Read:
    verdict = judge(one.ticks, one.band, size, focal_px)
    return replace(one, verdict=verdict, steps=size.length_mm / verdict.reading.step_mm)


def _judged(
    grey: Bytes, band: Band, size: RuleSize, focal_px: float | None, *, at_a_glance: bool = False
) -> Read | None:
    ticks = read_ticks(grey, band, at_a_glance=at_a_glance)
    if ticks is None or not ticks.is_believed:
        return None
    verdict = judge(ticks, band, size, focal_px)
    steps = size.length_mm / verdict.reading.step_mm
    return Read(band, ticks, verdict, ((band.start, band.stop),), steps)


def _lacking(grey: Bytes, one: Read) -> tuple[float, float]:
    """Return by what shares a bar lacks steps at its start and end, within the picture."""
    first, last = one.ticks.span
    lacking = one.steps - (last - first)
    at = [one.ticks.number_at(share) for share in (0.0, 0.02, 0.98, 1.0)]
    by = [lacking * 0.02 / (at[1] - at[0]), lacking * 0.02 / (at[3] - at[2])]
    size = np.array([grey.shape[1], grey.shape[0]]) - 1
    step = one.band.stop - one.band.start
    for side, (end, way) in enumerate(((one.band.start, -step), (one.band.stop, step))):
        room = np.where(way > 0, (size - end) / np.where(way == 0, 1, way), np.inf)
        room = np.minimum(room, np.where(way < 0, -end / np.where(way == 0, 1, way), np.inf))
        by[side] = max(0.0, min(by[side], 0.98 * float(room.min())))
    return by[0], by[1]


def _refuse_other_size(name: str, read: list[Read], size: RuleSize) -> None:
    """Refuse where graduations show that are another usual rule's."""
    for one in read:
        # To name another rule the lines alone must say which one it is.
        clear = one.is_divided or (one.verdict.is_decisive and one.ticks.are_clear)
        if not (clear and one.ticks.are_longest):
            continue
        fitting = [length for length in one.usual if abs(length / size.length_mm - 1) > 0.02]
        if not fitting and not (one.verdict.disproves_told and one.is_filled):
            continue
        told = f"the told {size.length_mm:.0f} mm ({size.length_mm / 25.4:.1f} in)"
        # Long and half-long lines may be hard to tell apart; then no number of them is named.
        sure = one.verdict.is_decisive and one.ticks.are_clear
        seen = " or ".join(f"{length:.0f} mm ({length / 25.4:.1f} in)" for length in fitting)
        what = f"fit {seen}, not {told}" if seen and sure else f"do not fit {told}"
        raise PhotoError(
            f"The graduations of the rule in {name} {what}", "give the true length of the rule"
        )


def _seen(one: Read, size: RuleSize, *, was_tapped: bool = False) -> SeenRule:
    """Return a rule as the fit takes it, with what is doubtful about it."""
    reading = one.verdict.reading
    seen = marks_of_graduations(
        one.band, _from_zero(one), reading.step_mm, size, was_tapped=was_tapped
    )
    doubts = []
    if not one.verdict.is_decisive:
        doubts.append(
            f"the rule's graduations may be {reading.text} or {one.verdict.second.text}, and "
            "nothing in the photo decides it: tape the board and give its length"
        )
    if not one.is_confirmed:
        doubts.append(
            f"only {100 * reading.seen:.0f} % of the rule's graduations are seen, so that their "
            "number does not confirm its length: clear what covers it, or tape the board"
        )
    if one.ticks.unsure:
        doubts.append(
            "a long edge of the rule is not where its graduations begin (a shadow along it?), so "
            "that the camera's tilt is known badly: take a second photo from another side"
        )
    return replace(seen, doubts=tuple(doubts))


def _from_zero(one: Read) -> Ticks:
    """Return graduations counted from the rule's own zero, as its ends place it."""
    first, last = one.ticks.span
    zeros = [one.number_of(start) for start, _ in one.ends]
    zeros += [one.number_of(stop) - one.steps for _, stop in one.ends]
    # The rule reaches over all that was read.
    possible = range(min(first, math.ceil(last - one.steps)), first + 1)
    best = min(possible, key=lambda zero: min(abs(zero - other) for other in zeros))
    return one.ticks.renumbered(-best)


def _tapped(
    name: str, grey: Bytes, size: RuleSize, corners: Floats, focal_px: float | None
) -> SeenRule:
    if corners.shape != (4, 2):
        raise PhotoError(f"{len(corners)} corners were tapped in {name}", "tap all four corners")
    quad = refine_taps(grey, corners, size)
    if quad is None:
        raise PhotoError(
            f"No rule edges are seen between the tapped corners in {name}", "tap its corners again"
        )
    wide = float(np.linalg.norm(quad[[0, 3]] - quad[[1, 2]], axis=1).mean())
    ends = quad[:2].mean(axis=0), quad[2:].mean(axis=0)
    bands = follow_band(grey, *ends, wide, fixed_ends=True) or [straight_band(quad)]
    read = [one for band in bands if (one := _judged(grey, band, size, focal_px)) is not None]
    best = min(read, key=_likelihood, default=None)
    if best is not None:
        if best.passes and (best.is_as_told or best.verdict.is_whole):
            return replace(_seen(best, size, was_tapped=True), corners=quad)
        _refuse_other_size(name, [best], size)
    return marks_of_bar(bands[0], size, quad)
