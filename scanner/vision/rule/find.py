"""Find a plain rule: a bar whose graduations say which rule it is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.vision.rule.beyond import goes_on, run_past_edge
from scanner.vision.rule.follow_band import follow_band, straight_band
from scanner.vision.rule.marks import marks_of_bar, marks_of_graduations
from scanner.vision.rule.read import is_outshone
from scanner.vision.rule.search import judged, read_bars
from scanner.vision.rule.size import INCH_MM, judge
from scanner.vision.rule.taps import refine_taps

if TYPE_CHECKING:
    from scanner.vision.cv import Bytes, Floats
    from scanner.vision.evidence.seen import SeenRule
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.read import Read
    from scanner.vision.rule.ticks import Ticks
    from scanner.vision.setup import Corners, RuleSize, Setup

MEND = (
    "lay the rule flat beside the board, all of it in view, go nearer until its graduations show "
    "sharp, and take the photo again, or tap its four corners"
)
# Usual rules of lengths that differ by no more are one to the eye: 12 inches and 30 cm.
_SAME_LENGTH = 0.02


def find_rules(
    name: str,
    grey: Bytes,
    setup: Setup,
    corners: Corners | None = None,
    focal_px: float | None = None,
    *,
    at_a_glance: bool = False,
) -> tuple[tuple[SeenRule, ...], ...]:
    """Return what may be the plain rule of a photo, the likeliest first; or it and the second one.

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
        Do not follow a rule that is plain already to where its far end may lie.

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
    read = read_bars(grey, size, wanted, focal_px, at_a_glance=at_a_glance)
    fitting = sorted(_undisputed(read), key=_likelihood)
    # Between the ends of the millimetre lines lie double centimetres, which made the told inches.
    fitting = [one for one in fitting if not run_past_edge(grey, one.band, one.ticks)]
    plain = [one for one in fitting if one.is_settled and not is_outshone(one, read)]
    fitting = plain or fitting
    if not fitting:
        _refuse_other_size(name, grey, read, size)
        raise PhotoError(f"No reference rule found in {name}, so there is no scale", MEND)
    if not (fitting[0].is_confirmed and fitting[0].is_divided):
        # What its ends and the number of its lines do not bear out, or is only even, yields to
        # clearer graduations.
        clearer = [one for one in read if one.evidence > fitting[0].evidence]
        _refuse_other_size(name, grey, [fitting[0], *clearer], size)
    fitting = [one for one in fitting if not is_outshone(one, read)]
    if not fitting:
        seen = f"The clearest graduations in {name} are not those of {_in_words(size)}"
        raise PhotoError(seen, "give the true length of the rule, or tap its four corners")
    fitting = [one for one in fitting if not _goes_on(grey, one)]
    if not fitting:
        seen = f"The graduations of the rule in {name} go on beyond {_in_words(size)}"
        raise PhotoError(seen, "give the true length of the rule")
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
    clear = [one for one in read if one.ticks.are_clear]
    return [
        one
        for one in read
        if one.passes
        and not any(_is_clearer(other, one) and one.disagrees_with(other) for other in clear)
        and not any(one.is_shown_otherwise(other) for other in read)
    ]


def _is_clearer(other: Read, one: Read) -> bool:
    """Return whether a reading is clearer than another: by more lines, or by how it is divided.

    Fewer lines are, where they are plainly halved on a bar at least as wide: the centimetres along
    one edge of a rule made sixty inches, while all of it showed its two feet.
    """
    if other.evidence <= one.evidence:
        return False
    more = other.ticks.are_longest and len(other.ticks.numbers) > len(one.ticks.numbers)
    wide = other.band.width(0.5) >= one.band.width(0.5)
    return more or (wide and other.is_plainly_divided)


def _goes_on(grey: Bytes, one: Read) -> bool:
    """Return whether another, longer rule lies there than was told."""
    zero = _zero_of(one)
    return goes_on(grey, one.band, one.ticks, zero, zero + one.steps)


def _likelihood(one: Read) -> tuple[bool, float]:
    return not one.is_confirmed, -one.evidence


def _apart(first: Band, second: Band) -> bool:
    gap = first.centre(0.5) - second.centre(0.5)
    return float(np.linalg.norm(gap)) > 2 * max(first.width(0.5), second.width(0.5))


def _judged_as(one: Read, size: RuleSize, focal_px: float | None) -> Read:
    verdict = judge(one.ticks, one.band, size, focal_px)
    return replace(one, verdict=verdict, steps=size.length_mm / verdict.reading.step_mm)


def _is_cut(one: Read, grey: Bytes) -> bool:
    """Return whether a bar ends at the picture's border: of the rule more may lie beyond it."""
    size = np.array([grey.shape[1], grey.shape[0]])
    ends = np.array([one.band.start, one.band.stop])
    border = one.band.width(0.5) / 2
    return bool(((ends < border) | (ends > size - 1 - border)).any())


def _refuse_other_size(name: str, grey: Bytes, read: list[Read], size: RuleSize) -> None:
    """Refuse where graduations show that are another usual rule's."""
    for one in read:
        # To name another rule the lines alone must say which one it is.
        clear = one.is_divided or (one.verdict.is_decisive and one.ticks.are_clear)
        if not (clear and one.ticks.are_longest):
            continue
        fitting = [
            length for length in one.usual if abs(length / size.length_mm - 1) > _SAME_LENGTH
        ]
        if _is_cut(one, grey):
            fitting = [length for length in fitting if length > size.length_mm]
        # What is no usual rule's, not clear and not plainly divided may be a saw's teeth.
        plain = one.ticks.are_clear or (one.is_plainly_divided and one.verdict.is_decisive)
        is_rule = one.verdict.disproves_told and one.ticks.is_filled and plain
        if not fitting and not is_rule:
            continue
        # Long and half-long lines may be hard to tell apart; then no number of them is named.
        sure = one.verdict.is_decisive and one.ticks.are_clear
        what, mend = _against(fitting if sure else [], size)
        raise PhotoError(f"The graduations of the rule in {name} {what}", mend)


def _against(fitting: list[float], size: RuleSize) -> tuple[str, str]:
    """Return what graduations that fit rules of other lengths, mm, say of the told one, and advice.

    Of a rule seen twice as long as told its half steps may have been counted.
    """
    told, mend = _in_words(size), "give the true length of the rule"
    if not fitting:
        return f"do not fit {told}", mend
    seen = " or ".join(f"{length:.0f} mm ({length / INCH_MM:.1f} in)" for length in fitting)
    if any(abs(length / size.length_mm / 2 - 1) < _SAME_LENGTH for length in fitting):
        nearer = "go nearer until its longest lines stand out from the others"
        return f"fit {seen}, but only as half steps {told}", f"{mend}, or {nearer}"
    return f"fit {seen}, not {told}", mend


def _in_words(size: RuleSize) -> str:
    return f"the told {size.length_mm:.0f} mm ({size.length_mm / INCH_MM:.1f} in)"


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
    return one.ticks.renumbered(-_zero_of(one))


def _zero_of(one: Read) -> int:
    """Return the number of the line at the rule's own zero, as its ends place it."""
    first, last = one.ticks.span
    zeros = [one.number_of(start) for start, _ in one.ends]
    zeros += [one.number_of(stop) - one.steps for _, stop in one.ends]
    # The rule reaches over all that was read.
    possible = range(min(first, math.ceil(last - one.steps)), first + 1)
    return min(possible, key=lambda zero: min(abs(zero - other) for other in zeros))


def _tapped(
    name: str, grey: Bytes, size: RuleSize, corners: Floats, focal_px: float | None
) -> SeenRule:
    """Return the rule between four tapped corners.

    Where its graduations cannot be read the person's word for its length is taken.
    """
    if corners.shape != (4, 2):
        raise PhotoError(f"{len(corners)} corners were tapped in {name}", "tap all four corners")
    quad = refine_taps(grey, corners, size)
    if quad is None:
        raise PhotoError(
            f"No rule edges are seen between the tapped corners in {name}", "tap its corners again"
        )
    wide = float(np.linalg.norm(quad[[0, 3]] - quad[[1, 2]], axis=1).mean())
    ends = quad[:2].mean(axis=0), quad[2:].mean(axis=0)
    bands = list(follow_band(grey, *ends, wide, fixed_ends=True)) or [straight_band(quad)]
    read = [one for band in bands if (one := judged(grey, band, size, focal_px)) is not None]
    best = min(read, key=_likelihood, default=None)
    if best is not None:
        if best.passes and (best.is_as_told or best.verdict.is_whole):
            return replace(_seen(best, size, was_tapped=True), corners=quad)
        _refuse_other_size(name, grey, [best], size)
    return marks_of_bar(bands[0], size, quad)
