"""Search a photo for bars, and read the graduations of those that may be a rule."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, permutations
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, shrunk
from scanner.vision.rule.band import faces_right
from scanner.vision.rule.bars import bars_in, clearest_bars
from scanner.vision.rule.beyond import are_drawn, run_past_edge, within_ground
from scanner.vision.rule.each_edge import as_read, read_by_edges
from scanner.vision.rule.follow_band import STOUTEST, follow_band
from scanner.vision.rule.read import Read, is_outshone
from scanner.vision.rule.rough_bar import shows_nothing
from scanner.vision.rule.size import USUAL_WIDTH_MM, judge
from scanner.vision.rule.ticks import carry_on, full_evidence, quick_evidence, read_ticks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scanner.vision.rule.band import Band
    from scanner.vision.setup import RuleSize

# Edges are looked for at no more than this size: graduations closer than a pixel then do not break
# them, and no photo costs more than another.
_WORK_SIDE_PX = 1632
# ... but a plain rule shows its edges at a third of it too, which takes a third of the time.
_GLANCE_SIDE_PX = 544
# Quick evidence from which a bar is read with care (rendered rules reach 200, other bars 90), and
# from which it is read before any other bar is looked at.
_WORTH_READING, _CLEARLY_ONE = 110.0, 170.0
# Bars that are read with care where none was clear.
_MOST_READ = 4
_NARROWEST_PX = 6.0
# The first and the last line of a rule may lie at its very ends: more missing are worth a look.
_MISSING_STEPS = 2.5
# After so many bars the likeliest is read where none was clear, before any further ones are looked
# at.
_GLANCED_AT = 6
# ... of which a first glance follows so many.
_MOST_PLAIN = 3
# Where nothing passed by then: of so many first bars that are as long for their width as told
# (perspective makes a rule short, seldom long) so many are read, whatever a quick look says. Grass,
# glare and distance hide lines from that.
_SHAPED_AMONG, _MOST_SHAPED, _SHAPED = 12, 2, (0.6, 1.25)
# More lines than the told rule has, by this share, are another rule's (usual rules of one kind
# differ by 17 % and more) and no speck's.
_MOST_SEEN = 1.1
# Evidence that such a bar needs (rendered rules that were missed else 290 to 350, a bare bar 203).
_SHAPED_EVIDENCE = 250.0


@dataclass(eq=False)
class _Bar:
    """A bar by its first outline; the others are followed when first asked for."""

    first: Band
    others: Iterator[Band]

    @cached_property
    def outlines(self) -> list[Band]:
        return [self.first, *self.others]


def is_slender(band: Band) -> bool:
    """Tell whether an outline may be a rule's: its edges followed past a gap may even cross."""
    return 0 < STOUTEST * band.width(0.5) < band.length


def _bars_seen(
    grey: Bytes,
    size: RuleSize,
    read: list[Read],
    waiting: list[tuple[float, _Bar]],
) -> Iterator[tuple[float, _Bar | None]]:
    """Yield quick evidence and outlines of each bar that lies along none of those met before.

    Of the later ones only those along which something repeats. ``read`` and ``waiting`` may grow
    while bars are yielded.
    """
    factor = max(1.0, max(grey.shape) / _WORK_SIDE_PX)
    small = shrunk(grey, factor) if factor > 1 else grey
    aspect = size.length_mm / (size.width_mm or USUAL_WIDTH_MM)
    met: set[bytes] = set()
    looked_at = 0
    for start, stop, wide in chain.from_iterable(bars_in(small, aspect)):
        ends = (np.array([start, stop]) + 0.5) * factor - 0.5
        # What shows at half size is among what shows at full size too.
        rough = np.array([*ends.ravel(), wide]).tobytes()
        if rough in met:
            continue
        met.add(rough)
        if wide * factor < _NARROWEST_PX or _is_read(ends, read):
            continue
        if any(bar.first.is_again(ends, wide * factor) for _, bar in waiting):
            continue
        if not faces_right(ends[0], ends[1]):
            ends = ends[::-1]
        looked_at += 1
        if looked_at > _SHAPED_AMONG and shows_nothing(grey, ends, wide * factor):
            yield 0.0, None
            continue
        bands = follow_band(grey, ends[0], ends[1], wide * factor)
        slender = (band for band in bands if is_slender(band))
        first = next(slender, None)
        if first is None:
            yield 0.0, None
        else:
            yield quick_evidence(grey, first), _Bar(first, slender)


def _is_read(ends: Floats, read: list[Read]) -> bool:
    """Return whether a bar lies along one that was read.

    One that ran on over the floor hides none, nor one that clearer lines contradict.

    ``ends`` (2, 2) px.
    """
    return any(
        one.band.covers(ends)
        and not one.is_too_long
        and not (one.passes and is_outshone(one, read))
        for one in read
    )


def read_bars(
    grey: Bytes, size: RuleSize, wanted: int, focal_px: float | None, *, at_a_glance: bool = False
) -> list[Read]:
    """Return the bars of a picture that carry graduations, each read with care.

    ``at_a_glance``: of a bar that is clear the first outline that settles it is enough.
    """
    if at_a_glance and wanted == 1 and (plain := _plain_one(grey, size, focal_px)) is not None:
        return [plain]
    read: list[Read] = []
    waiting: list[tuple[float, _Bar]] = []
    shaped: list[list[Band]] = []
    bars = _bars_seen(grey, size, read, waiting)
    for looked_at, (evidence, bar) in enumerate(bars, start=1):
        if bar is not None:
            if evidence >= _CLEARLY_ONE:
                one = judged(grey, bar.first, size, focal_px) if at_a_glance else None
                if one is None or not one.is_settled:
                    one = read_bar(grey, bar.outlines, size, focal_px, one)
                read += [one] if one is not None else []
            else:
                waiting.append((evidence, bar))
            if _settled(read) >= wanted:
                return read
            if looked_at <= _SHAPED_AMONG and (alike := _shaped(bar.outlines, size)):
                shaped.append(alike)
        if looked_at == _GLANCED_AT:
            # A rule seen from afar is clear to nobody, but it is among the first.
            read += _read_likeliest(grey, waiting, read, 1, size, focal_px)
        if looked_at == _SHAPED_AMONG:
            read += _read_shaped_of(grey, shaped, read, size, focal_px)
        if _settled(read) >= wanted:
            return read
    read += _read_likeliest(grey, waiting, read, _MOST_READ, size, focal_px)
    return read + _read_shaped_of(grey, shaped, read, size, focal_px)


def _settled(read: list[Read]) -> int:
    """Return how many bars need no further look; no clearer lines may contradict them."""
    return sum(one.is_settled and not is_outshone(one, read) for one in read)


def _plain_one(grey: Bytes, size: RuleSize, focal_px: float | None) -> Read | None:
    """Return a rule whose bar is among the clearest few of a small picture, and that is settled.

    Where there is none nothing is lost but a tenth of what the search takes.
    """
    factor = max(1.0, max(grey.shape) / _GLANCE_SIDE_PX)
    small = shrunk(grey, factor) if factor > 1 else grey
    aspect = size.length_mm / (size.width_mm or USUAL_WIDTH_MM)
    bars = clearest_bars(small, aspect)[:_GLANCED_AT]
    # The likeliest by their shape.
    bars.sort(key=lambda bar: abs(math.log(math.dist(bar[0], bar[1]) / bar[2] / aspect)))
    for start, stop, wide in bars[:_MOST_PLAIN]:
        ends = (np.array([start, stop]) + 0.5) * factor - 0.5
        if wide * factor < _NARROWEST_PX:
            continue
        if not faces_right(ends[0], ends[1]):
            ends = ends[::-1]
        if shows_nothing(grey, ends, wide * factor):
            continue
        bands = filter(is_slender, follow_band(grey, ends[0], ends[1], wide * factor))
        first = next(bands, None)
        evidence = 0.0 if first is None else quick_evidence(grey, first)
        # Of the told shape a bar is worth reading on less than what singles it out of many.
        if first is None or evidence < _WORTH_READING:
            continue
        one = judged(grey, first, size, focal_px)
        if one is not None and not (one.is_settled and evidence >= _CLEARLY_ONE):
            one = read_bar(grey, [first, *bands], size, focal_px, one)
        # A shadow along an edge makes nothing plain, nor do lines that go on past it.
        if one is None or not one.is_settled or one.ticks.unsure:
            continue
        if not run_past_edge(grey, one.band, one.ticks):
            return one
    return None


def _shaped(bands: list[Band], size: RuleSize) -> list[Band]:
    """Return those outlines of a bar that are about as long for their width as the told rule."""
    told = size.length_mm / (size.width_mm or USUAL_WIDTH_MM)
    least, most = told * _SHAPED[0], told * _SHAPED[1]
    return [band for band in bands if least < band.length / band.width(0.5) < most]


def _read_shaped_of(
    grey: Bytes,
    shaped: list[list[Band]],
    read: list[Read],
    size: RuleSize,
    focal_px: float | None,
) -> list[Read]:
    """Return what the likeliest bars of the told shape say where nothing passed; none wait then."""
    if any(one.passes for one in read):
        return []
    likely = sorted(shaped, key=lambda one: -full_evidence(grey, one[0]))[:_MOST_SHAPED]
    shaped.clear()
    return _read_shaped(grey, likely, size, focal_px)


def _read_shaped(
    grey: Bytes, shaped: list[list[Band]], size: RuleSize, focal_px: float | None
) -> list[Read]:
    """Return what outlines of the told shape say, of each bar the first that agrees in all.

    Nothing quick spoke for these bars, and a bare bar in an even light shows something that
    repeats: they are believed only as they lie, and only where their own ends bear out the count.
    """
    found = []
    for bands in shaped:
        for band in bands:
            one = judged(grey, band, size, focal_px)
            if one is None or one.evidence < _SHAPED_EVIDENCE:
                continue
            if one.is_settled and one.is_as_told:
                found.append(one)
                break
    return found


def _read_likeliest(
    grey: Bytes,
    waiting: list[tuple[float, _Bar]],
    read: list[Read],
    most: int,
    size: RuleSize,
    focal_px: float | None,
) -> list[Read]:
    """Return what the likeliest bars that wait say; they wait no more."""
    waiting.sort(key=lambda one: -one[0])
    likely = [one for one in waiting[:most] if one[0] >= _WORTH_READING]
    del waiting[: len(likely)]
    found: list[Read] = []
    for _, bar in likely:
        ends = np.array([bar.first.start, bar.first.stop])
        if not _is_read(ends, [*read, *found]):
            one = read_bar(grey, bar.outlines, size, focal_px)
            found += [one] if one is not None else []
    return found


def read_bar(
    grey: Bytes,
    bands: list[Band],
    size: RuleSize,
    focal_px: float | None,
    known: Read | None = None,
) -> Read | None:
    """Return the graduations of a bar, from that of its outlines on which most of them lie.

    ``known``: what one of the outlines says, where it was read before.
    """
    best: Read | None = None
    for band in bands:
        is_known = known is not None and known.band is band
        one = known if is_known else judged(grey, band, size, focal_px)
        if one is None:
            continue
        told_fits = best is None or best.verdict.reading.seen <= 1
        if told_fits and one.is_settled and one.is_as_told:
            return one
        if best is None or _is_better(one, best):
            best = one
    if best is None:
        return None
    if not best.is_settled and (crossed := _crossed(grey, bands, best, size, focal_px)) is not None:
        return crossed
    if best.verdict.reading.seen > 1 or best.is_as_told:
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
    if not is_slender(longer):
        return best
    again = carry_on(grey, best.ticks, longer, before, after)
    if again is None or len(again.numbers) <= len(best.ticks.numbers):
        return best
    # It was made longer on the word of the told length alone, so it cannot disprove it; and what it
    # adds must be lines.
    if not are_drawn(grey, longer, again, best.ticks.span):
        return best
    ticks = again.within(math.floor(best.steps + 1e-3) + 1)
    ends = tuple((band.start, band.stop) for band in bands)
    verdict = judge(ticks, longer, size, focal_px)
    whole = Read(longer, ticks, verdict, ends, size.length_mm / verdict.reading.step_mm)
    return best if best.passes and not whole.passes else whole


def _crossed(
    grey: Bytes, bands: list[Band], best: Read, size: RuleSize, focal_px: float | None
) -> Read | None:
    """Return what the bar from one outline's start to another's end says, where it agrees in all.

    One outline may run on over the floor at one end, and another stop short at the other; the
    counted steps tell which start and which end belong together.
    """
    if len(bands) < 2 or best.usual or best.verdict.reading.seen > _MOST_SEEN:
        return None

    def off(pair: tuple[Band, Band]) -> float:
        steps = best.number_of(pair[1].stop) - best.number_of(pair[0].start)
        return abs(steps - best.steps)

    first, last = min(permutations(bands, 2), key=off)
    if off((first, last)) >= best.most_off_told:
        return None
    longest = max(bands, key=lambda one: one.length)
    step = (longest.stop - longest.start) / longest.length**2
    low, high = (float((end - longest.start) @ step) for end in (first.start, last.stop))
    band = longest.between(low, high)
    one = None if band is None else judged(grey, band, size, focal_px)
    return one if one is not None and one.is_settled and one.is_as_told else None


def _is_better(one: Read, best: Read) -> bool:
    """Return whether one outline of a bar is better than another: more lines lie on it.

    But where the lines of both end with the told rule, never the one that runs on far beyond them:
    what it has more is a line or two of the floor. Nor one that cannot be the told rule, where all
    of the told rule's lines were read with certainty: it may count noise in smaller steps.
    """
    for whole, other in ((one, best), (best, one)):
        if (
            whole.is_settled
            and whole.verdict.is_whole
            and not (other.passes or other.verdict.is_whole)
        ):
            return whole is one
    both_whole = one.verdict.is_whole and best.verdict.is_whole
    if both_whole and one.is_too_long != best.is_too_long:
        return best.is_too_long
    return len(one.ticks.numbers) > len(best.ticks.numbers)


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


def judged(grey: Bytes, band: Band, size: RuleSize, focal_px: float | None) -> Read | None:
    """Return what the graduations on a band say of the told size, or None where there are none."""
    ticks = read_ticks(grey, band)
    if ticks is None or not ticks.is_believed:
        return None
    one = as_read(band, ticks, size, focal_px)
    if 1 < one.verdict.reading.seen <= _MOST_SEEN:
        ticks = within_ground(grey, band, ticks)
        one = as_read(band, ticks, size, focal_px)
    if one.is_settled and not ticks.unsure:
        return one
    return read_by_edges(grey, one, size, focal_px) or one
