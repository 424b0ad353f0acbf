"""How likely boards come out of one log, by colour, ring spacing and the sequence of rings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.looks import aspects_apart
from scanner.lot.ring_match import RingMatch, rings_match

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.looks import Aspect, Looks

# What being so far apart (`looks.aspects_apart`) says for one log, natural logarithm of the
# likelihood ratio: shares of board pairs of one log against those of different ones, smoothed.
# Development lots 3000-3007 of `tests.bench.likeness`.
_BY_ASPECT: dict[Aspect, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "colour": (
        (0.35, 0.65, 0.85, 1.0, 1.15, 1.35, 1.65, 2.0, 2.7),
        (0.95, 0.65, 0.5, 0.4, 0.15, -0.15, -0.4, -0.75, -0.95),
    ),
    "rings": ((0.5, 0.65, 0.85, 1.5, 2.7), (0.2, 0.0, -0.2, -0.3, -0.35)),
    "contrast": ((0.2, 0.3, 0.4, 0.65, 0.85, 1.2), (0.35, 0.05, -0.05, -0.1, -0.25, -0.35)),
}
# The same of a ring match, nats above what other boards of the lot usually reach with the chosen
# one.
_RING_NATS = (-5.5, -1.0, 0.5, 3.7, 5.2, 7.0, 9.0, 11.5, 17.0)
_RING_SAYS = (-0.5, -0.35, -0.1, 0.0, 0.1, 0.7, 1.35, 1.9, 3.8)
# What boards of other logs usually reach by chance, and for how many of them that counts beside
# those that lie there: a small lot says little of what is usual.
_USUAL_NATS, _COUNTS_AS = 6.0, 4
# From here on 45 of 45 matches were of one log (those lots and 76000-76003); from 15 on, 69 of 72.
_SURE_NATS = 17.0


@dataclass(frozen=True, slots=True)
class Sameness:
    """What speaks for two boards coming out of one log.

    Attributes
    ----------
    log_odds
        Natural logarithm of the likelihood ratio; 0 says nothing either way, None nothing known.
    match
        Their rings' best common stretch.
    by_rings
        Whether the rings match far better than boards of other logs do by chance.
    """

    log_odds: float | None
    match: RingMatch
    by_rings: bool


def samenesses(
    chosen: Looks, others: Sequence[Looks], *, with_rings: bool = True
) -> tuple[Sameness, ...]:
    """Return what speaks for each other board being of the chosen one's log.

    Parameters
    ----------
    others
        All boards of its species in the lot: what their rings reach by chance is held against the
        best of them.
    with_rings
        Whether to match rings, which takes some 15 ms a board.
    """
    if not with_rings:
        chosen = replace(chosen, rings=())
    matches = [rings_match(chosen.rings, other.rings) for other in others]
    nats = [
        match.nats for match, other in zip(matches, others, strict=True) if _both(chosen, other)
    ]
    usual = float(np.median([*nats, *([_USUAL_NATS] * _COUNTS_AS)]))
    found = []
    for other, match in zip(others, matches, strict=True):
        apart = aspects_apart(chosen, other)
        said = [
            float(np.interp(distance, *table))
            for aspect, table in _BY_ASPECT.items()
            if (distance := apart[aspect]) is not None
        ]
        above = match.nats - usual
        if _both(chosen, other):
            said.append(float(np.interp(above, _RING_NATS, _RING_SAYS)))
        found.append(Sameness(sum(said) if said else None, match, above >= _SURE_NATS))
    return tuple(found)


def _both(one: Looks, other: Looks) -> bool:
    return bool(one.rings and other.rings)
