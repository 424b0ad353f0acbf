"""A scanned face drawn to its true size, and whether a true flaw is marked on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.polygons import iou

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.board.board import Board


def is_found(true: Polygon, marked: list[Polygon]) -> bool:
    """Return whether a flaw is marked: well overlapped by a mark, or round a mark's middle."""
    return any(iou(one, true) >= 0.3 or true.contains(one.centroid) for one in marked)


def share_to_true_size(board: Board, true: Polygon, face: int) -> tuple[float, float]:
    """Return by what share along and across a face must be drawn out to have its true size.

    Never by more than the board's own U of its length and widths. Whether a knot was seen is one
    question, how true the scale is another: beside a plain rule alone all places of a face may lie
    a centimetre off together, as its U says. Nothing here looks at a knot.
    """
    low_x, low_y, high_x, high_y = true.bounds
    left, upper, right, lower = board.faces[face].outline.bounds
    u_width = float(np.median([one.width.u_mm / one.width.value_mm for one in board.widths]))
    most = (board.length.u_mm / board.length.value_mm, u_width)
    whole = ((high_x - low_x) / (right - left), (high_y - low_y) / (lower - upper))
    along, across = (
        float(np.clip(share, 1 - u, 1 + u)) for share, u in zip(whole, most, strict=True)
    )
    return along, across
