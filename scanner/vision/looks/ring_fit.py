"""From both faces' rings to the log: how far apart its rings are, and where its pith lies.

Rings are taken for circles round a straight pith, so on a face at depth d from it they come at a
rate |u| / sqrt(u^2 + d^2) / ring, u across the board from the pith. The two faces differ by the
thickness: that tells the heart side, as a guess. Rings on both sides of the pith are the same ones:
that tells its place across.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scanner.vision.looks.ring_sides import sides_agree
from scanner.vision.looks.ring_spectrum import LOG_FIRST, LOG_STEP, RingTable

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.board.looks import Figure
    from scanner.vision.looks.followed_rings import FollowedRings

Floats = NDArray[np.float64]

# What is looked for: ring spacing, depth of the pith under the nearer face, its place across in
# shares of the width from the middle.
_RING_MM = np.exp(np.log(1.2) + LOG_STEP * np.arange(38))
_DEPTH_MM = np.geomspace(6.0, 260.0, 22)
_ACROSS: Floats = np.unique(np.round(np.r_[-1:1.01:0.05, -0.6:0.61:0.025], 3)).astype(np.float64)
# Where wood does not say which, hardwood of the trade rather has rings of 3.6 mm, 70 mm from the
# pith (ours, no source): on development lots this halves the gross errors.
_USUAL_RING_MM, _RING_WEIGHT = 3.6, 0.1
_USUAL_DEPTH_MM, _DEPTH_WEIGHT = 70.0, 0.02
# What a step on which both sides tell the same rings counts (`sides_agree`): the pith's place
# across came out within 7 mm for 80 % of boards, by spacings alone 17 (lots 3000-3003).
_SIDES_WEIGHT = 0.004
# Rates off the table: too broad to be seen says nothing, too fine speaks against.
_TOO_FINE = -0.5
# By so much the better side must win to be told: development lots 3000-3007.
SURE_HEART = 0.05
_LEAST_FLAT = 0.3


@dataclass(frozen=True, slots=True)
class RingFit:
    """The log as a board's faces tell it.

    Attributes
    ----------
    ring_mm
        From ring to ring, square to them.
    depth_mm
        Of the pith under the face nearer to it.
    pith_mm
        Across the board, from the middle of its width.
    heart_face
        The face nearer to the pith as it seems; ``lead`` is how much better it fits than the other
        way round (0 where only one face was seen).
    flat_share
        Share of both faces' width where rings lie flatter than 45 degrees to the face.
    has_arches
        Whether the pith lies under the board's width, so that arches stand on its faces.
    """

    ring_mm: float
    depth_mm: float
    pith_mm: float
    heart_face: int
    lead: float
    flat_share: float
    has_arches: bool


def fit_rings(
    tables: Mapping[int, RingTable],
    rings: Mapping[int, FollowedRings],
    middle_mm: float,
    width_mm: float,
    thickness_mm: float,
) -> RingFit | None:
    """Return the log that the rings of one or both faces fit best, None without any.

    Parameters
    ----------
    tables, rings
        By face, 1 and 2, the same ones in both; the tables in the board frame.
    middle_mm, width_mm
        The board across: y of its middle, and its width.
    """
    if not tables:
        return None
    across = np.multiply(_ACROSS, width_mm, dtype=np.float64)
    totals = np.array(
        [_spacings(tables, heart, middle_mm, across, thickness_mm) for heart in (1, 2)]
    )
    # Of each place across: its best heart side and depth, to lay both sides out by.
    by_place = totals.max(axis=1)
    heart_deep = by_place.reshape(-1, len(across)).argmax(axis=0)
    hearts, depths = heart_deep // len(_DEPTH_MM) + 1, _DEPTH_MM[heart_deep % len(_DEPTH_MM)]
    deep_mm = np.array([depths + np.where(hearts == face, 0.0, thickness_mm) for face in tables])
    totals += _SIDES_WEIGHT * sides_agree([rings[face] for face in tables], across, deep_mm)
    index, ring, deep, side = (int(i) for i in np.unravel_index(totals.argmax(), totals.shape))
    depth, pith = float(_DEPTH_MM[deep]), float(across[side])
    return RingFit(
        ring_mm=float(_RING_MM[ring]),
        depth_mm=depth,
        pith_mm=pith,
        heart_face=index + 1,
        lead=float(totals[index].max() - totals[1 - index].max()) if len(tables) == 2 else 0.0,
        flat_share=_flat_share(depth + thickness_mm / 2, pith, width_mm),
        has_arches=abs(pith) < width_mm / 2,
    )


def _spacings(
    tables: Mapping[int, RingTable],
    heart: int,
    middle_mm: float,
    across_mm: Floats,
    thickness_mm: float,
) -> Floats:
    """Return how well each spacing (first), depth and place across fits, a face being nearest."""
    total = np.zeros((len(_RING_MM), len(_DEPTH_MM), len(across_mm)))
    for face, table in tables.items():
        deep_mm = _DEPTH_MM + (0.0 if face == heart else thickness_mm)
        total += _agreement(table, middle_mm, deep_mm, across_mm)
    total /= max(sum(len(table.y_mm) for table in tables.values()), 1)
    total -= _RING_WEIGHT * np.log(_RING_MM / _USUAL_RING_MM)[:, None, None] ** 2
    total -= _DEPTH_WEIGHT * np.log(_DEPTH_MM / _USUAL_DEPTH_MM)[None, :, None] ** 2
    return total


def _agreement(table: RingTable, middle_mm: float, depth_mm: Floats, across_mm: Floats) -> Floats:
    """Return how well each spacing (first), depth and place across fits a face's rings."""
    off = np.abs(table.y_mm[:, None, None] - middle_mm - across_mm[None, None, :])
    steep = off / np.hypot(off, depth_mm[None, :, None])
    # Spacings go in the table's own steps, so one look-up serves them all.
    first = (np.log(np.maximum(steep, 1e-6) / _RING_MM[0]) - LOG_FIRST) / LOG_STEP
    at = np.round(first).astype(int)
    rows = np.arange(len(table.y_mm))[:, None, None]
    count = table.shows.shape[1]
    out = np.empty((len(_RING_MM), len(depth_mm), len(across_mm)))
    for n in range(len(_RING_MM)):
        column = at - n
        seen = table.shows[rows, np.clip(column, 0, count - 1)]
        seen = np.where(column < 0, 0.0, np.where(column >= count, _TOO_FINE, seen))
        out[n] = seen.sum(axis=0)
    return out


def _flat_share(depth_mm: float, pith_mm: float, width_mm: float) -> float:
    y = np.linspace(-width_mm / 2, width_mm / 2, 101) - pith_mm
    return float((np.abs(y) < depth_mm).mean())


def figure_of(fit: RingFit) -> Figure:
    """Return the figure in a word: "cathedral" or "straight"."""
    return "cathedral" if fit.has_arches and fit.flat_share > _LEAST_FLAT else "straight"
