"""The rings of a face in their order, from the pith out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.board.ring_series import RingSeries
from scanner.vision.looks.followed_rings import outward

if TYPE_CHECKING:
    from scanner.vision.looks.followed_rings import FollowedRings
    from scanner.vision.looks.ring_fit import RingFit


def series_of(
    rings: FollowedRings, fit: RingFit, face: int, thickness_mm: float
) -> tuple[RingSeries, ...]:
    """Return the rings of a face, on each side of the pith and parted where none show.

    Parameters
    ----------
    fit
        Where the pith lies.
    """
    depth_mm = fit.depth_mm + (0.0 if face == fit.heart_face else thickness_mm)
    found = []
    for side in (-1, 1):
        for radius, light in outward(rings, side, fit.pith_mm, depth_mm):
            values = tuple(round(float(v), 1) + 0.0 for v in light)
            found.append(RingSeries(face, radius, values))
    return tuple(found)
