"""Whether the rings of two boards match: cross-dating of their series.

Two series are held against each other by a local alignment that may stretch them (T. F. Smith and
M. S. Waterman 1981, "Identification of common molecular subsequences"): round a log the same rings
are wider here and narrower there. A match speaks for one log and proves nothing: trees of one
stand share good and bad years.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.ring_series import STEP_MM

if TYPE_CHECKING:
    from scanner.board.ring_series import RingSeries

# Where rings are wider than this, or hardly show, neighbouring values say the same again: a match
# of so many mm counts as one ring. Without it faces of few broad bands matched best of all.
_RING_COUNTS_MM = 3.0
# Dark or pale by less than this is no ring border (light is evened out to a spread of 1).
_BORDER = -0.5


@dataclass(frozen=True, slots=True)
class RingMatch:
    """The best common stretch of two boards' rings.

    Attributes
    ----------
    nats
        How much likelier it is by one sequence of rings than by chance, natural logarithm, before
        anyone has looked for the best of many places: what other boards reach by chance must be
        held against it.
    length_mm, rings
        Across the rings, and how many there lie.
    """

    nats: float = 0.0
    length_mm: float = 0.0
    rings: int = 0


# A page asks again and again for the same boards.
@lru_cache(maxsize=4096)
def rings_match(one: tuple[RingSeries, ...], other: tuple[RingSeries, ...]) -> RingMatch:
    """Return the best match between any series of two boards; nothing in common is 0."""
    if not one or not other:
        return RingMatch()
    # Only now: boards without series need no compiled loop.
    from scanner.lot.ring_kernel import best_stretch

    best = RingMatch()
    theirs = [(np.array(b.light), round(b.from_pith_mm / STEP_MM)) for b in other]
    for a in one:
        light, first = np.array(a.light), round(a.from_pith_mm / STEP_MM)
        for b_light, b_first in theirs:
            nats, start, steps = best_stretch(light, b_light, first, b_first)
            if nats > best.nats:
                part = light[start : start + steps]
                best = RingMatch(float(nats), steps * STEP_MM, _count_rings(part))
    if not best.length_mm:
        return best
    share = min(1.0, best.rings * _RING_COUNTS_MM / best.length_mm)
    return replace(best, nats=best.nats * share)


def _count_rings(light: np.ndarray) -> int:
    inner = light[1:-1]
    return int(((inner < _BORDER) & (inner <= light[:-2]) & (inner < light[2:])).sum())
