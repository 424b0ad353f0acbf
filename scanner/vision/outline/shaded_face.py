"""A strip of the face in a shadow, which the map takes for the board's side.

A hard shadow along a board darkens the face as its turned side is dark, and the shadow's border
passes for the arris. But the map still tells where the board ends, and no side shows further in
from its foot than a square one must: what it calls side there is face.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from scanner.vision.outline.bowed_line import FEWEST, LEAST_STRAIGHT, bowed_line
from scanner.vision.outline.by_foot import shows_floor, straight_parts
from scanner.vision.outline.side import BORDER_COLUMNS, arris_at_most

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.side import Side

# Sides are not quite square, nor is a rough-sawn board of one thickness.
_SLACK_MM = 1.5
# More side than this, further in than that, is none; along so many columns with it the map is no
# surer. Further in than the widest nothing is looked at. On 25 rendered faces with a straight hard
# shadow along the board (seeds 5200-5250, even) 2.0 mm left 3 mm at one arris and 1.0 mm moved
# clear arrises by tenths of a millimetre.
_LEAST_MM, _BESIDE_COLUMNS, _WIDEST_MM = 1.5, 5, 80.0
# Bark in a shadow passes for the side in part. Wane counts as a mean over so many columns, since a
# shadow may pass for a spot of it, too.
_OF_WANE, _WANE_COLUMNS = 2.0, 51
# A foot strays out from its line by no more than a saw does; further in wane runs through to it.
_STRAYS_MM = 1.5


def with_shaded_face(side: Side, reached: NDArray[np.intp]) -> Side:
    """Return a long side whose face goes on to where the foot of the board's side puts the arris.

    Only where the map calls more of it side than can show, and only beside a foot that runs
    straight. Where wane takes much of what lies past the face nothing is changed.

    Parameters
    ----------
    side
        A long side of the board.
    reached
        The columns that the board reaches.
    """
    by_foot = arris_at_most(side)
    known = reached[shows_floor(side, by_foot)[reached]]
    if len(known) < max(LEAST_STRAIGHT * len(reached), FEWEST):
        return side
    by_foot = ndimage.median_filter(by_foot, size=BORDER_COLUMNS, mode="nearest")
    line, _ = bowed_line(side.s_mm, by_foot, known)
    parts = straight_parts(by_foot - line, known)
    arris = np.minimum(by_foot, line + _STRAYS_MM)
    outer = side.t_mm[1:, None]
    near = (outer <= arris) & (outer > arris - _WIDEST_MM)
    too_far_in = near & (outer <= arris - _SLACK_MM)
    row_mm = float(side.t_mm[1] - side.t_mm[0])
    flank_mm, wane_mm = (
        (share * too_far_in).sum(axis=0) * row_mm for share in (side.flank, side.wane)
    )
    wane_mm = ndimage.uniform_filter1d(wane_mm, _WANE_COLUMNS, mode="nearest")
    strip = flank_mm > np.maximum(_LEAST_MM, _OF_WANE * wane_mm)
    # Wane bends the foot along a part of the board, and there it may pass for the side.
    strip &= np.isin(np.arange(len(strip)), np.concatenate([[], *parts]))
    strip = ndimage.maximum_filter1d(strip, 2 * _BESIDE_COLUMNS + 1, mode="nearest")
    return replace(side, odds=np.where(near & strip, np.maximum(side.odds, side.body), side.odds))
