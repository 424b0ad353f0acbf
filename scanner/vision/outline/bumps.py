"""A saw leaves no bump: where an unsure map lets a straight arris swell out, its line goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.outline.bowed_line import FEWEST, LEAST_STRAIGHT, bowed_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.several import ArrisOdds
    from scanner.vision.outline.side import Doubles

# A sawn edge wanders by a millimetre or two.
_BUMP_MM, _FOOT_OF_BUMP_MM = 2.0, 1.0
# Shorter, and it is a splinter or a speck.
_LEAST_LENGTH_MM = 25.0
# Log odds a mm that the map gives, on average, for the face reaching out so far. Bumps that were
# none had up to 2.4 on rendered boards, the one that was the board's own shape 3.5.
_SURE = 3.0


def without_bumps(side: ArrisOdds, t_mm: Doubles, reached: NDArray[np.intp]) -> Doubles:
    """Return a traced long side (S,) with the bumps taken off that the map is not sure of.

    Floor of the wood's own look beside a face lets the map waver there, and only there: along the
    rest of the board the arris runs straight.

    Parameters
    ----------
    side
        What is told of the side.
    t_mm
        How far out its arris was traced at each column.
    reached
        The columns that the board reaches.
    """
    if len(reached) < FEWEST:
        return t_mm
    line, straight = bowed_line(side.s_mm, t_mm, reached)
    return t_mm if straight < LEAST_STRAIGHT else within_line(side, t_mm, line, reached)


def within_line(
    side: ArrisOdds, t_mm: Doubles, line: Doubles, reached: NDArray[np.intp]
) -> Doubles:
    """Return a traced long side (S,) with the bumps past the saw's line taken off.

    Parameters
    ----------
    line
        (S,) how far out the saw's line lies at each reached column.
    side, t_mm, reached
        As in `without_bumps`; what the map is sure of stays here too.
    """
    out_mm = np.zeros_like(t_mm)
    out_mm[reached] = (t_mm - line)[reached]
    flat = t_mm.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], out_mm > _FOOT_OF_BUMP_MM, [0]])))
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        bump = np.arange(first, stop)
        if side.s_mm[bump[-1]] - side.s_mm[first] < _LEAST_LENGTH_MM:
            continue
        if out_mm[bump].max() > _BUMP_MM and _sureness(side, line, t_mm, bump) < _SURE:
            flat[bump] = line[bump]
    return flat


def _sureness(side: ArrisOdds, line: Doubles, t_mm: Doubles, bump: NDArray[np.intp]) -> float:
    """Return the log odds a mm for the arris as traced against its line, over a bump."""
    rows = [
        np.rint(np.interp(at[bump], side.t_mm, np.arange(len(side.t_mm)))) for at in (line, t_mm)
    ]
    gained = side.odds[rows[1].astype(int), bump] - side.odds[rows[0].astype(int), bump]
    return float(gained.sum() / (t_mm - line)[bump].sum())
