"""Where an arris is told badly it goes by the line that the saw left along the rest of it.

So it is known as well as a saw keeps to its line, however unsure the picture left it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import solveh_banded

from scanner.vision.outline.bowed_line import (
    FEWEST,
    LEAST_STRAIGHT,
    STRAIGHT_MM,
    STRAY_MM,
    WAVE_MM,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.side import Doubles

# Further off, it is no saw's wander; and what leads there, down to this, belongs to it.
_NO_WANDER_MM, _LEADS_MM = 2.5, 0.5
# Doubt that a quarter of a side has is the whole side's, its line's too: it errs alike there. On 56
# rendered faces (even seeds of 7404-7478 and 5280-5298) the process alone left faces outside their
# U whose lit side passed for the face along most of an edge, and the median of the side's doubt
# still did; with this 95 to 98 % of the places told to 1.3 to 3 mm lay within that.
_OF_SIDE = 0.75


def by_the_saws_line(
    s_mm: Doubles, t_mm: Doubles, line_mm: Doubles, sd_mm: Doubles, free: NDArray[np.bool_]
) -> tuple[Doubles, Doubles]:
    """Return an arris (N,), each place the nearer to the saw's line the less surely it is told.

    And how unsure each place is then, one standard deviation (N,). It is the likeliest course of
    what strays from a line as a saw does (an Ornstein-Uhlenbeck process), given what was traced of
    it. Nothing is moved of an arris that leaves its line along a third of it, nor where it leaves
    its line by more than a saw does; there all stays as unsure as it was.

    Parameters
    ----------
    s_mm, t_mm, line_mm
        (N,) along the side, evenly spaced, and how far out from it the arris and the line lie.
    sd_mm
        (N,) how unsure each place is, one standard deviation.
    free
        (N,) which places may be moved: between the corners, where no wane shows.

    References
    ----------
    C. E. Rasmussen and C. K. I. Williams 2006, "Gaussian Processes for Machine Learning", ch. 2
    and appendix B (named from memory).
    """
    off_mm = t_mm - line_mm
    straight = np.abs(off_mm[free]) <= STRAIGHT_MM
    if len(straight) < FEWEST or straight.mean() < LEAST_STRAIGHT:
        return t_mm, sd_mm
    moved = free & ~_no_saws(off_mm)
    pace = float(s_mm[1] - s_mm[0])
    # What the map is unsure of errs alike along a wave's length: it counts as one place.
    told = np.where(moved, sd_mm**-2 * pace / WAVE_MM, 0.0)
    # What stays is no wander and tells nothing of its neighbours'.
    keeps = np.exp(-pace / WAVE_MM)
    own = 1 / (STRAY_MM**2 * (1 - keeps**2))
    banded = np.zeros((2, len(off_mm)))
    banded[0, 1:] = -keeps * own
    banded[1] = told + own * (1 + keeps**2)
    banded[1, [0, -1]] -= own * keeps**2
    solved = solveh_banded(banded, np.column_stack([told * off_mm, np.eye(len(off_mm))]))
    likely, var_mm2 = solved[:, 0], np.diag(solved[:, 1:])
    held_mm = np.sqrt(var_mm2 + np.quantile(sd_mm[free], _OF_SIDE) ** 2)
    return np.where(moved, line_mm + likely, t_mm), np.where(
        moved, np.minimum(held_mm, sd_mm), sd_mm
    )


def _no_saws(off_mm: Doubles) -> NDArray[np.bool_]:
    """Return where an arris leaves its line further than a saw wanders, to where it comes back."""
    leads = np.abs(off_mm) > _LEADS_MM
    # Beyond the line and within it are two stretches.
    borders = np.flatnonzero(np.diff(np.sign(off_mm) * leads)) + 1
    stays = np.zeros(len(off_mm), dtype=bool)
    for part in np.split(np.arange(len(off_mm)), borders):
        stays[part] = np.abs(off_mm[part]).max() > _NO_WANDER_MM
    return stays
