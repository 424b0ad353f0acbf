"""What an edge says of a board: its thickness along the length, the grain's slope through it."""

import math
from dataclasses import dataclass, replace

from scanner.board.board import Board
from scanner.board.measured import Measured


@dataclass(frozen=True, slots=True)
class ThicknessStation:
    """The thickness at a place: x in mm from the left end of the edge as photographed."""

    x_mm: float
    thickness: Measured


@dataclass(frozen=True, slots=True)
class EdgeFacts:
    """What one edge shows.

    Attributes
    ----------
    stations
        Five along the edge; a station where an arris is not seen is left out.
    slope_deg, slope_u_deg
        Of the ring lines on the edge to its length, positive where they sink from face 1 towards
        the right; None where no lines are seen. Fibres follow the rings, but lines on an edge say
        it of this edge only.
    """

    length_mm: float
    stations: tuple[ThicknessStation, ...]
    slope_deg: float | None
    slope_u_deg: float | None
    is_confirmed: bool = False
    doubts: tuple[str, ...] = ()

    @property
    def thinnest(self) -> Measured | None:
        """The least thickness: what flattening must reckon with."""
        if not self.stations:
            return None
        return min((s.thickness for s in self.stations), key=lambda t: t.value_mm)

    @property
    def steepest_one_in(self) -> float | None:
        """N of the steepest slope within U, as in 1 in N; None where no slope was read."""
        if self.slope_deg is None:
            return None
        steep = math.radians(abs(self.slope_deg) + (self.slope_u_deg or 0.0))
        return 1 / max(math.tan(steep), 1e-3)


def with_edge(board: Board, facts: EdgeFacts) -> Board:
    """Return the board with the edge's thinnest place as its thickness and its slope of grain.

    Of two edges the steeper slope counts: fibres run so through all of the board.

    Raises
    ------
    ValueError
        Nobody has confirmed the reading, or no thickness was read.
    """
    thinnest = facts.thinnest
    if not facts.is_confirmed or thinnest is None:
        raise ValueError("an edge changes a board once a person agreed with its reading")
    shown = ", ".join(f"{s.thickness.value_mm:.1f}" for s in facts.stations)
    notes = [f"thickness along an edge, mm: {shown}"]
    if facts.steepest_one_in is not None:
        notes.append(
            f"grain on that edge slopes no steeper than 1 in {facts.steepest_one_in:.0f}"
            " through the board"
        )
    slopes = [n for n in (board.slope_one_in, facts.steepest_one_in) if n is not None]
    return replace(
        board,
        thickness=thinnest,
        notes=tuple(dict.fromkeys([*board.notes, *notes])),
        slope_one_in=min(slopes, default=None),
    )
