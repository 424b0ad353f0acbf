"""By how much a plain rule's long edges are seen outside its own, from how it stands out.

Where a rule is brighter than its ground its edge is where the bright ends, shadow beside it or not.
A darker rule runs into the dark line that lies round everything that lies on something, and is
seen wider than it is. Where hardly a step is seen the edge may be a line of its graduations. And
lines too close to be parted make a grey band along an edge, which is seen to begin where they end.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled
from scanner.vision.evidence.seen import Bleed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.evidence.seen import SeenRule

# Places beside an edge, as shares of the rule's width: its bare middle and open ground. What lies
# between them is graduations, shadow and the edge's own blur.
_MIDDLE = np.linspace(-0.7, -0.3, 17)
_GROUND = np.linspace(0.17, 0.4, 9)
# Steps of brightness, of 255, that are plain.
_BRIGHTER, _DARKER = 30.0, 10.0
# Mean and sd across, mm a side. On 28 rendered photos bright rules were seen 0.0 wider, sd 0.15,
# dark ones 0.8, sd 0.6, others 1.5 narrower to 1.6 wider; edges are rounder elsewhere.
_OF_BRIGHT, _OF_DARK = (0.0, 0.35), (0.8, 0.6)
# Along the photo's edges tell nothing: the prior of a reference of which nothing is told.
_ALONG = (0.0, 0.4)
# A bar that is seen narrower has no middle.
_NARROWEST_PX = 2.0
# Points that an edge must have for its brightness to be a median of something.
_FEWEST = 4
# A band outside an edge that is brighter than the ground, by this share of a bright rule's step and
# as many of 255, is the rule's own, unless it is no wider than blur (px): that reaches as far into
# the rule as out of it, twice as far where the edge is seen a pixel off.
_BAND, _BAND_STEP, _BLUR_PX, _OF_BLUR = 0.08, 10.0, 3.0, 2.0
# How far out it is looked for (share of the rule's width: up to where the ground begins), and how
# surely it is the rule's: sd over its width.
_WIDEST_BAND, _BAND_SD = 0.16, 0.5
_APART_PX = 0.5


class _Beside(NamedTuple):
    """How much brighter a rule is than its ground at an edge, and a band of its own past it, mm."""

    step: float
    band_mm: float


def bleed_of_edges(grey: Bytes, seen: SeenRule) -> Bleed | None:
    """Return by how much a rule is seen longer and wider at each side; None where nothing tells.

    Parameters
    ----------
    grey
        Brightness, full size.
    """
    seen_beside = [_seen_beside(grey, seen, side) for side in (-1.0, 1.0)]
    told = [one for one in seen_beside if one is not None]
    if len(told) < len(seen_beside):
        return None
    steps = [one.step for one in told]
    if min(steps) >= _BRIGHTER:
        mean, sd = _OF_BRIGHT
        narrower = sum(one.band_mm for one in told) / 2
        across = mean - narrower, math.hypot(sd, _BAND_SD * narrower)
    elif max(steps) <= -_DARKER:
        across = _OF_DARK
    else:
        return None
    return Bleed((_ALONG[0], across[0]), (_ALONG[1], across[1]))


def _seen_beside(grey: Bytes, seen: SeenRule, side: float) -> _Beside | None:
    """Return how a rule stands out at one of its edges.

    None: too few points tell, or its edges lie on or past each other, so that nothing is between.
    """
    here, there = (seen.signs[:, 1] == sign for sign in (side, -side))
    if min(here.sum(), there.sum()) < _FEWEST:
        return None
    out = seen.directions[here] * side
    # The other edge lies where the rule is as wide as its own points say.
    gap = np.median((seen.pixels[here].mean(axis=0) - seen.pixels[there].mean(axis=0)) @ out.T)
    if gap < _NARROWEST_PX:
        return None
    middle, ground = (
        float(np.median(_beside(grey, seen.pixels[here], out, gap * at)))
        for at in (_MIDDLE, _GROUND)
    )
    step = middle - ground
    least = max(_BAND_STEP, _BAND * step)
    away = np.arange(0.0, _WIDEST_BAND * gap, _APART_PX)
    outside, inside = (
        np.median(_beside(grey, seen.pixels[here], out, way * away), axis=0) for way in (1.0, -1.0)
    )
    # Brighter ground beyond a shadow is no band.
    band_px = _reach_px(outside - ground >= least)
    if band_px < max(_BLUR_PX, _OF_BLUR * _reach_px(middle - inside >= least)):
        band_px = 0.0
    return _Beside(step, band_px * seen.width_mm / float(gap))


def _reach_px(is_so: NDArray[np.bool_]) -> float:
    """Return how far from an edge something is so at every step."""
    return _APART_PX * max(0, int(np.logical_and.accumulate(is_so).sum()) - 1)


def _beside(grey: Bytes, points: Floats, out: Floats, at_px: Floats) -> NDArray[np.float32]:
    """Return the brightness at distances (K,) outwards of edge points (N, 2): (N, K)."""
    places = points[:, None] + at_px[:, None] * out[:, None]
    return sampled(grey, places.reshape(-1, 2)).reshape(len(points), len(at_px))
