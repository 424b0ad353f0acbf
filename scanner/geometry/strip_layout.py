"""Where every mark of strip, cross arm and cards lies; used by drawing and by finding.

Strip frame: mm, x along from the strip's zero, y across from the strip's axis, pointing to the
board's side. y is up where x points right (as on a printed page), so rows of a picture run to -y.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

MARKER_MM = 36.0
MODULE_MM = 6.0
PITCH_MM = 50.0
STRIP_WIDTH_MM = 60.0
GRADUATION_BAND_MM = 6.0
PIECE_MM = 250.0
MARKERS_PER_PIECE = 5
# Printed above each other on one page, so at one size.
PIECES_PER_PAGE = 3
TAB_MM = 8.0
ARM_PIECE_MM = 150.0
ARM_MARKERS = 6
# The arm lies along y at the strip's zero end, its first marker edge 37 mm from the strip's axis.
ARM_AXIS_X_MM = 30.0
ARM_FIRST_EDGE_MM = 37.0
ARM_ORIGIN_MM = (ARM_AXIS_X_MM, ARM_FIRST_EDGE_MM - (PITCH_MM - MARKER_MM) / 2)
# A board card: its size, and its marker (of another dictionary) so far from its left border.
CARD_MM = (124.0, 60.0)
CARD_MARKER_MM = 42.0
CARD_MARKER_X_MM = 27.0

Piece = Literal["A", "B", "arm", "arm2"]
_FIRST_ID: dict[Piece, int] = {"A": 0, "B": 100, "arm": 200, "arm2": 206}
_COUNT: dict[Piece, int] = {"A": 100, "B": 100, "arm": ARM_MARKERS, "arm2": ARM_MARKERS}
REFERENCES: tuple[Piece, ...] = ("A", "B", "arm", "arm2")
STRIPS: tuple[Piece, ...] = ("A", "B")


@dataclass(frozen=True, slots=True)
class Position:
    """What an id tells: the reference it belongs to and its number along it."""

    reference: Piece
    number: int


def position_of(marker_id: int) -> Position | None:
    """Return where a marker sits, or None for an id of no reference."""
    for reference in REFERENCES:
        number = marker_id - _FIRST_ID[reference]
        if 0 <= number < _COUNT[reference]:
            return Position(reference, number)
    return None


def id_of(reference: Piece, number: int) -> int:
    """Return the id of the marker with a number along a reference."""
    if not 0 <= number < _COUNT[reference]:
        raise ValueError(f"{reference} has markers 0 to {_COUNT[reference] - 1}, got {number}")
    return _FIRST_ID[reference] + number


def centre_mm(number: int) -> float:
    """Return x of the centre of a marker on its own reference."""
    return PITCH_MM * number + PITCH_MM / 2


def corner_signs() -> NDArray[np.float64]:
    """Return the corners of a marker in half sides, (4, 2): top left first, clockwise as printed.

    A detector gives the corners in this order, whichever way the strip lies.
    """
    return np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])


def corners_mm(number: int) -> NDArray[np.float64]:
    """Return the four corners of a marker on its own reference, shape (4, 2)."""
    return np.array([centre_mm(number), 0.0]) + corner_signs() * MARKER_MM / 2


def piece_length_mm(reference: Piece) -> float:
    """Return the length between the joint lines of one printed piece."""
    return ARM_PIECE_MM if reference in ("arm", "arm2") else PIECE_MM


def joints_before(x_mm: NDArray[np.float64], piece_mm: float) -> NDArray[np.int_]:
    """Return how many glued joints lie between zero and each x."""
    return np.maximum(0, np.ceil(x_mm / piece_mm - 1e-9).astype(np.int_) - 1)


def pieces_for(length_mm: float) -> int:
    """Return how many pieces make a strip at least this long."""
    most = _COUNT["A"] // MARKERS_PER_PIECE
    pieces = math.ceil(length_mm / PIECE_MM - 1e-6)
    if not 1 <= pieces <= most:
        raise ValueError(f"a strip has 1 to {most} pieces of {PIECE_MM:.0f} mm, got {length_mm} mm")
    return pieces
