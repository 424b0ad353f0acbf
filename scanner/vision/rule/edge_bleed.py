"""By how much a plain rule's long edges are seen outside its own, from how it stands out.

Where a rule is brighter than its ground its edge is where the bright ends, shadow beside it or not.
A darker rule runs into the dark line that lies round everything that lies on something, and is
seen wider than it is. Where hardly a step is seen the edge may be a line of its graduations.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled
from scanner.vision.evidence.seen import Bleed

if TYPE_CHECKING:
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
# Points that an edge must have for its brightness to be a median of something.
_FEWEST = 4


def bleed_of_edges(grey: Bytes, seen: SeenRule) -> Bleed | None:
    """Return by how much a rule is seen longer and wider at each side; None where nothing tells.

    Parameters
    ----------
    grey
        Brightness, full size.
    """
    steps = [_step(grey, seen, side) for side in (-1.0, 1.0)]
    told = [step for step in steps if step is not None]
    if len(told) < len(steps):
        return None
    if min(told) >= _BRIGHTER:
        across = _OF_BRIGHT
    elif max(told) <= -_DARKER:
        across = _OF_DARK
    else:
        return None
    return Bleed((_ALONG[0], across[0]), (_ALONG[1], across[1]))


def _step(grey: Bytes, seen: SeenRule, side: float) -> float | None:
    """Return how much brighter a rule is than the ground beside one of its edges."""
    here, there = (seen.signs[:, 1] == sign for sign in (side, -side))
    if min(here.sum(), there.sum()) < _FEWEST:
        return None
    out = seen.directions[here] * side
    # The other edge lies where the rule is as wide as its own points say.
    gap = np.median((seen.pixels[here].mean(axis=0) - seen.pixels[there].mean(axis=0)) @ out.T)
    middle, ground = (_beside(grey, seen.pixels[here], out, gap * at) for at in (_MIDDLE, _GROUND))
    return float(middle - ground)


def _beside(grey: Bytes, points: Floats, out: Floats, at_px: Floats) -> float:
    """Return the middle brightness at distances outwards of edge points."""
    places = points[:, None] + at_px[:, None] * out[:, None]
    return float(np.median(sampled(grey, places.reshape(-1, 2))))
