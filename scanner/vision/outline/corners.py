"""A saw cuts straight through to the end: near its corners an arris is drawn on along its line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.several import ArrisOdds
    from scanner.vision.outline.side import Doubles

# This near to a corner paint, end grain and what lies past the end mislead the map: of 44 rendered
# corners one in ten lay 2.1 mm off or more, the arris 40 mm from them 0.5 mm.
_CORNER_MM = 20.0
# The line that it is drawn on along, and how nearly nine tenths of that stretch must lie on it:
# else wane runs there, and may run on to the corner.
_ALONG_MM, _STRAIGHT_MM = 300.0, 0.6
# What strays from the line by less is left as it was traced: wane may begin there.
_STRAYS_MM = 1.0
# Log odds a mm that the map gives against the line. Where the arris ran straight to the corner it
# gave up to 1.9, where wane went to the corner 3.1 and more.
_SURE = 3.0
_FEWEST = 12
_ROUNDS, _NEAR_MM = 6, 1.0


def to_the_corners(side: ArrisOdds, t_mm: Doubles, ends_mm: tuple[float, float]) -> Doubles:
    """Return a traced long side (S,) drawn on straight to its two corners.

    Not where the arris is none of a straight saw's there, or where the map is sure of another.

    Parameters
    ----------
    side
        What is told of the side.
    t_mm
        How far out its arris was traced at each column.
    ends_mm
        Where along the side the two ends cross it.
    """
    drawn = t_mm.copy()
    for inward_mm in (side.s_mm - ends_mm[0], ends_mm[1] - side.s_mm):
        beside = (inward_mm > _CORNER_MM) & (inward_mm <= _CORNER_MM + _ALONG_MM)
        if beside.sum() < _FEWEST:
            continue
        line = _line(inward_mm, t_mm, beside)
        strays = np.abs(t_mm - line)
        if np.quantile(strays[beside], 0.9) > _STRAIGHT_MM:
            continue
        corner = np.flatnonzero((inward_mm >= 0) & (inward_mm <= _CORNER_MM))
        if not len(corner) or strays[corner].max() <= _STRAYS_MM:
            continue
        if _sureness(side, line, t_mm, corner) < _SURE:
            past = inward_mm <= _CORNER_MM
            drawn[past] = line[past]
    return drawn


def _line(inward_mm: Doubles, t_mm: Doubles, beside: NDArray[np.bool_]) -> Doubles:
    """Return the straight line (S,) through most of some columns."""
    design = np.column_stack([np.ones_like(inward_mm), inward_mm])
    some, t = design[beside], t_mm[beside]
    weight = np.ones(len(t))
    fit = np.zeros(2)
    for _ in range(_ROUNDS):
        root = np.sqrt(weight)
        fit = np.linalg.lstsq(some * root[:, None], t * root, rcond=None)[0]
        weight = 1 / (1 + ((t - some @ fit) / _NEAR_MM) ** 2)
    return np.asarray(design @ fit, dtype=np.float64)


def _sureness(side: ArrisOdds, line: Doubles, t_mm: Doubles, corner: NDArray[np.intp]) -> float:
    """Return the log odds a mm for the arris as traced against its line, near a corner."""
    rows = [
        np.rint(np.interp(at[corner], side.t_mm, np.arange(len(side.t_mm)))).astype(int)
        for at in (line, t_mm)
    ]
    gained = side.odds[rows[1], corner] - side.odds[rows[0], corner]
    return float(gained.sum() / np.abs(t_mm - line)[corner].sum())
