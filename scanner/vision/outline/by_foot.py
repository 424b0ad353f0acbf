"""Where a side's foot runs straight and its arris does not, the arris lies no further out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.outline.bowed_line import FEWEST, LEAST_STRAIGHT, STRAIGHT_MM, bowed_line
from scanner.vision.outline.side import arris_over_foot

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.side import Doubles, Side, Singles

# Sides are not quite square, boards not of one thickness.
_SLACK_MM = 1.5
# Log odds a mm against any face further out: as sure as the map itself ever is.
_NO_FACE = 5.0
# So far past the foot floor must show.
_PAST_MM = 3.0
# Beside wane the foot runs straight along a part of the board only, at least so many columns long;
# along so many together it must do so.
_LEAST_PART, _TOGETHER = 60, 51


def within_foot(side: Side, told: Singles, reached: NDArray[np.intp]) -> Singles:
    """Return the log odds of an arris with those taken down that its side's foot rules out.

    A lit side of the face's own colour passes for the face here and there, and the arris as told
    wanders between the two; the foot of the side, on the floor, does not. Past the line that it
    gives lies no face. Wane changes nothing in that: it only takes wood away.

    Parameters
    ----------
    side
        A long side of the board.
    told
        (T + 1, S) as `Side.arris_odds` has them.
    reached
        The columns that the board reaches.
    """
    by_foot = arris_over_foot(side)
    if by_foot is None or len(reached) < FEWEST:
        return told
    known = reached[shows_floor(side, by_foot)[reached]]
    if len(known) < max(LEAST_STRAIGHT * len(reached), FEWEST):
        return told
    line, foot_straight = bowed_line(side.s_mm, by_foot, known)
    if foot_straight >= LEAST_STRAIGHT:
        return _within_line(side, told, line, reached, foot_straight)
    for part in straight_parts(by_foot - line, known):
        share = float((np.abs(by_foot - line)[part] <= STRAIGHT_MM).mean())
        told = _within_line(side, told, line, part, share)
    return told


def _within_line(
    side: Side, told: Singles, line: Doubles, part: NDArray[np.intp], foot_straight: float
) -> Singles:
    """Return the log odds, those past the foot's line taken down along a part of the board."""
    _, straight = bowed_line(side.s_mm, side.t_mm[told.argmax(axis=0)], part)
    if straight >= foot_straight:
        return told
    past_mm = side.t_mm[:, None] - (line + _SLACK_MM)[None, :]
    past_mm[:, np.setdiff1d(np.arange(told.shape[1]), part)] = -1.0
    last = np.clip((past_mm <= 0).sum(axis=0) - 1, 0, len(told) - 1)
    there = told[last, np.arange(told.shape[1])]
    falling = (there - _NO_FACE * np.maximum(past_mm, 0.0)).astype(np.float32)
    return np.where(past_mm > 0, np.minimum(told, falling), told)


def straight_parts(off_mm: Doubles, known: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Return the long parts of the known columns along which a foot keeps to its line."""
    on = np.abs(off_mm[known]) <= STRAIGHT_MM
    if len(on) < _LEAST_PART:
        return []
    together = np.convolve(np.pad(on, _TOGETHER // 2, "edge"), np.ones(_TOGETHER), "valid")
    edges = np.flatnonzero(np.diff(np.r_[0, together >= LEAST_STRAIGHT * _TOGETHER, 0]))
    runs = zip(edges[::2], edges[1::2], strict=True)
    return [known[first:stop] for first, stop in runs if stop - first >= _LEAST_PART]


def shows_floor(side: Side, by_foot: Doubles) -> NDArray[np.bool_]:
    """Return (S,) where a photo shows the floor past the foot, not a rule's straight border."""
    foot_mm = by_foot + np.interp(by_foot, side.t_mm, side.reach_mm)
    past = np.searchsorted(side.t_mm, foot_mm + _PAST_MM)
    rows = np.minimum(past, len(side.seen) - 1)
    return np.asarray(side.seen[rows, np.arange(len(rows))] > 0.5)
