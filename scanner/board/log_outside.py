"""Where both faces show the outside of the log: wane and sapwood lie over each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely.ops import unary_union

from scanner.board.flaw import FlawKind

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from scanner.board.reading import FaceReading

# A patch as large as a knot that counts in full: smaller ones may be a wandering edge.
_FULL_MM = 30.0


def agreeing_outside(first: FaceReading, seen: FaceReading) -> float:
    """Return how well the log's outside agrees on two laid-over faces, 0 to 2.

    An edge of a board lies towards the bark or it does not, on both faces: the face nearer to the
    bark has the more wane and sapwood, and what the other has lies under it. Where only one face
    shows any, nothing is told.

    Parameters
    ----------
    first, seen
        Face 1, and face 2 as seen through the board, laid on it; mm.
    """
    return sum(
        _share_under(unary_union(one), unary_union(two))
        for one, two in ((_wane(first), _wane(seen)), (first.sapwood, seen.sapwood))
    )


def _wane(face: FaceReading) -> list[BaseGeometry]:
    return [flaw.outlines[1] for flaw in face.flaws if flaw.kind is FlawKind.WANE]


def _share_under(one: BaseGeometry, two: BaseGeometry) -> float:
    """Return which share of the smaller shape lies under the larger, less for a small one."""
    smaller = float(min(one.area, two.area))
    if smaller == 0:
        return 0.0
    size = min(1.0, float(np.sqrt(smaller)) / _FULL_MM)
    return float(one.intersection(two).area) / smaller * size
