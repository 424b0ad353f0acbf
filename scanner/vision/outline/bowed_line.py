"""The bowed line that a saw leaves along a board, through all that strays from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.side import Doubles

# What lies this near to its line runs straight.
STRAIGHT_MM = 1.0
# A side that lies on its line along less of it tells nothing by it.
LEAST_STRAIGHT = 2 / 3
# Too few places, 4 mm apart, to tell a line by.
FEWEST = 30
# The saw strays so far from its line, one standard deviation, and in waves about so long.
STRAY_MM, WAVE_MM = 1.0, 150.0
# It wanders no further from it.
_WANDER_MM = 2.5
# The line is looked for among all that lies roughly on it first.
_ROUNDS, _WIDE_ROUNDS, _WIDE_MM = 10, 5, 3.0


def bowed_line(s_mm: Doubles, t_mm: Doubles, reached: NDArray[np.intp]) -> tuple[Doubles, float]:
    """Return the bowed line (S,) that most of the reached columns lie on, and the share that do.

    Past the board's ends, where nothing is told, the line runs on level.

    Parameters
    ----------
    s_mm, t_mm
        (S,) along the side and out from it.
    reached
        The columns that the board reaches, rising; three or more.

    References
    ----------
    P. W. Holland and R. E. Welsch 1977, "Robust regression using iteratively reweighted least
    squares" (named from memory).
    """
    middle, half = s_mm[reached].mean(), max(float(np.ptp(s_mm[reached])) / 2, 1.0)
    x = (s_mm[reached] - middle) / half
    design, t = np.column_stack([np.ones_like(x), x, x * x]), t_mm[reached]
    count = len(reached)
    best, most = t, -1.0
    # A stretch that strays may bend a line drawn through all: others are begun without one end.
    for start, reach in (
        (slice(None), (_WIDE_MM,) * _WIDE_ROUNDS),
        (slice(2 * count // 5, None), ()),
        (slice(3 * count // 5), ()),
    ):
        fit = np.linalg.lstsq(design[start], t[start], rcond=None)[0]
        line = _settled(design, t, fit, (*reach, *(STRAIGHT_MM,) * _ROUNDS))
        share = float((np.abs(t - line) <= STRAIGHT_MM).mean())
        if share > most:
            best, most = line, share
    return np.interp(s_mm, s_mm[reached], best), most


def keeps_its_line(edge: Doubles, first_mm: float, last_mm: float) -> bool:
    """Return whether a stretch of a traced long side runs on as the rest of that side does.

    Then nothing lies over it there, whatever saw's line its opposite edge makes likely.

    Parameters
    ----------
    edge
        (N, 2) the side's points, x rising, mm.
    first_mm, last_mm
        From where to where along x.
    """
    x, y = edge.T
    line, straight = bowed_line(x, y, np.arange(len(edge)))
    strays = np.abs(y - line)[(x >= first_mm) & (x <= last_mm)]
    return straight >= LEAST_STRAIGHT and bool(strays.max(initial=0.0) <= _WANDER_MM)


def _settled(design: Doubles, t: Doubles, fit: Doubles, nears: tuple[float, ...]) -> Doubles:
    """Return the line that a first fit comes to while what strays counts ever less."""
    for near in nears:
        root = 1 / (1 + ((t - design @ fit) / near) ** 2)
        fit = np.asarray(np.linalg.lstsq(design * root[:, None], t * root, rcond=None)[0], float)
    return np.asarray(design @ fit)
