"""Lines past a bar's end: a rule may go on there, and what is read there must be drawn.

An outline may stop anywhere along a rule: at a shadow, a leaf, a stain. Where it happens to stop
as many steps from the start as were told everything agrees, but for the lines that go on: then
another rule lies there. And where lines are looked for past an end they must look like its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.lines import median
from scanner.vision.cv import sampled
from scanner.vision.rule.band import along_curve

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from scanner.vision.cv import Bytes, Floats
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.ticks import Ticks

# So many lines are asked for beyond an end, all of them, and as many of the rule's own are what
# they are held against: grass and joints give one line at its place, seldom three.
_BEYOND, _OWN = 3, 6
# Fewer of the told lines drawn at the other end than this share, and only the outline is off.
_MOST = 0.5
# A line beyond stands out by this share of what the rule's own do.
_AS_CLEAR = 0.5
# Where a line is looked for about its place, and its ground, in steps; samples a step at least.
# (`_REACH_PX`: and at least so many px); how far across the line it is read, of the bar's width.
_REACH, _REACH_PX, _GROUND, _SAMPLES, _DEEP = 0.08, 1.2, 0.4, 40, 0.06
# A line is at its place what stands out most, or nearly.
_LEADS = 0.9
# The same bar goes on where it is about as bright: a floor or a jaw has lines of its own.
_SAME_GROUND = 0.3
# How far past an edge lines are looked for, of the bar's width, and the share of them that may be
# found there by chance.
_PAST_EDGE, _MOST_PAST = 0.12, 0.6
# Ground darker than this, of 255, is noise, and lines of less contrast are none: no division by
# nothing.
_BLACK, _NO_CONTRAST = 8.0, 1e-3
# By so much of its length a bar is carried on either way.
_CARRIED = 0.5


def goes_on(grey: Bytes, band: Band, ticks: Ticks, first: float, last: float) -> bool:
    """Return whether three lines in a row stand at their places past number first or last.

    Where the told lines at the other end are missing, or not in view, the outline only lies too far
    along: the rule may well be as long as was told.

    Parameters
    ----------
    first, last
        Numbers of the told rule's two ends.
    """
    numbers = np.unique(ticks.numbers)
    # A cubic runs off where nothing holds it: past the bar its steps go on as perspective has them.
    longer = ticks.steps.stretched(_CARRIED, _CARRIED)
    for end, other, way, stop in ((first, last, -1, 0.0), (last, first, 1, 1.0)):
        nearest = np.asarray(round(end) + way * np.arange(1, _BEYOND + 1))
        furthest = np.asarray(round(other) + way * np.arange(_BEYOND))
        own = numbers[:_OWN] if way < 0 else numbers[-_OWN:]
        if (ticks.number_at(stop) - end) * way < -0.5:
            # The bar stops before the told rule does: nothing is known of its end.
            continue

        def carried(at: Floats, stop: float = stop) -> Floats:
            joint = ticks.number_at(stop)
            shares = (longer.shares(np.append(at.ravel(), joint))) * (1 + 2 * _CARRIED) - _CARRIED
            return np.asarray((shares[:-1] + stop - shares[-1]).reshape(at.shape))

        goes, drawn = False, []
        for side in (-1.0, 1.0):
            heights = ticks.heights[np.sign(ticks.heights) == side]
            if len(heights) == 0:
                continue
            height = float(np.median(heights))
            usual = _contrasts(grey, band, ticks, ticks.steps.shares, own, height)
            beyond = _contrasts(grey, band, ticks, carried, nearest, height)
            if usual is None or beyond is None:
                continue
            least, ground = _AS_CLEAR * median(usual[0]), median(usual[1])
            alike = (np.abs(beyond[1] - ground) < _SAME_GROUND * ground).all()
            goes |= bool(least > 0 and alike and (beyond[0] > least).all())
            there = _contrasts(grey, band, ticks, ticks.steps.shares, furthest, height)
            drawn += [] if there is None else list(there[0] > least)
        if goes and drawn and np.mean(drawn) >= _MOST:
            return True
    return False


def run_past_edge(grey: Bytes, band: Band, ticks: Ticks) -> bool:
    """Return whether the lines read go on past an edge of their bar.

    Graduations begin at a rule's own edge. Lines that all end at one depth look like an edge, too;
    of those only the longest reach into such a bar, which hides how the steps are divided.
    """
    for side in (-1.0, 1.0):
        of_side = np.sign(ticks.heights) == side
        if not of_side.any():
            continue
        numbers = np.unique(ticks.numbers[of_side])
        heights = float(np.median(ticks.heights[of_side])), side * (0.5 + _PAST_EDGE)
        seen = [_contrasts(grey, band, ticks, ticks.steps.shares, numbers, at) for at in heights]
        if seen[0] is None or seen[1] is None:
            continue
        least = _AS_CLEAR * median(seen[0][0])
        if least > 0 and float(np.mean(seen[1][0] > least)) > _MOST_PAST:
            return True
    return False


def within_ground(grey: Bytes, band: Band, ticks: Ticks) -> Ticks:
    """Return graduations without those at either end that lie on other ground or hardly stand out.

    Seen on a real picture: a black jaw lay over a rule's end, and specks on it made three lines
    more than the told rule has.
    """
    numbers = np.unique(ticks.numbers)
    is_own = np.zeros(len(numbers), dtype=bool)
    for side in (-1.0, 1.0):
        of_side = np.sign(ticks.heights) == side
        if not of_side.any():
            continue
        there = np.unique(ticks.numbers[of_side])
        height = float(np.median(ticks.heights[of_side]))
        seen = _contrasts(grey, band, ticks, ticks.steps.shares, there, height)
        if seen is None:
            return ticks
        alike = np.abs(seen[1] - median(seen[1])) < _SAME_GROUND * median(seen[1])
        good = alike & (seen[0] > _AS_CLEAR * median(seen[0]))
        is_own[np.searchsorted(numbers, there[good])] = True
    if not is_own.any():
        return ticks
    own = numbers[is_own]
    return ticks.between(int(own[0]), int(own[-1]))


def are_drawn(grey: Bytes, band: Band, ticks: Ticks, known: tuple[int, int]) -> bool:
    """Return whether the lines read outside known numbers stand out as those within them do.

    Where a bar is made longer on the told length's word lines are looked for at their places, and
    something is found at many a place on grass or grain.
    """
    first, last = known
    added = (ticks.numbers < first) | (ticks.numbers > last)
    if not added.any():
        return True
    shares: list[float] = []
    for side in (-1.0, 1.0):
        of_side = np.sign(ticks.heights) == side
        numbers = [np.unique(ticks.numbers[of_side & one]) for one in (added, ~added)]
        if min(map(len, numbers)) == 0:
            continue
        height = float(np.median(ticks.heights[of_side]))
        seen = [_contrasts(grey, band, ticks, ticks.steps.shares, one, height) for one in numbers]
        if seen[0] is None or seen[1] is None:
            continue
        # Shade dims lines and ground alike.
        new, own = (
            contrast / np.maximum(ground, _BLACK) for contrast, ground in (seen[0], seen[1])
        )
        shares += [float(one) / max(median(own), _NO_CONTRAST) for one in new]
    return not shares or float(np.median(shares)) > _AS_CLEAR


def _contrasts(
    grey: Bytes,
    band: Band,
    ticks: Ticks,
    shares_of: Callable[[Floats], Floats],
    numbers: NDArray[np.int_],
    height: float,
) -> tuple[Floats, Floats] | None:
    """Return how far each line stands out from its ground, and how bright that is, if in view.

    It does not stand out (0) where something else near it does so more.
    """
    away = np.linspace(-_GROUND, _GROUND, _SAMPLES + 1)
    shares = shares_of(numbers[:, None] + away)
    shares = shares + height * (ticks.slant + ticks.fan * (shares.clip(0, 1) - 0.5))
    step = band.stop - band.start
    up = np.array([step[1], -step[0]]) / band.length
    # Within the bar its own edges count; beyond it they are carried on straight.
    held = shares.clip(0.0, 1.0)
    upper, lower = along_curve(band.upper, held), along_curve(band.lower, held)
    lift = (upper + lower) / 2 + height * (upper - lower)
    points = band.start + shares[..., None] * step + lift[..., None] * up
    aside = np.linspace(-_DEEP, _DEEP, 3) * band.width(0.5)
    rows = points + aside[:, None, None, None] * up
    size = np.array([grey.shape[1], grey.shape[0]])
    if (rows < 0).any() or (rows > size - 1).any():
        return None
    values = sampled(grey, rows).astype(np.float64).mean(axis=0)
    ground = np.median(values, axis=1)
    values = values - ground[:, None] if ticks.is_light else ground[:, None] - values
    step_px = float(np.ptp(shares, axis=1).mean()) * band.length / (2 * _GROUND)
    if step_px < 1:
        # So far out perspective has folded the steps up: nothing stands there to be seen.
        return None
    near = np.abs(away) <= min(2 * _REACH, max(_REACH, _REACH_PX / step_px))
    contrast = values[:, near].max(axis=1)
    low = values.min(axis=1)
    leads = contrast - low >= _LEADS * (values.max(axis=1) - low)
    return np.where(leads, contrast, 0.0), ground
