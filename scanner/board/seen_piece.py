"""`SeenPiece`: a piece of a board as a later photo showed it, cut or planed: thickness, colour."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from shapely.geometry import Polygon, box

from scanner.board.looks import Lab
from scanner.board.measured import Measured

# A piece found again lies within this of where it is said to lie (tests/app/test_piece_photo.py);
# where its place along is less sure, only the stretch that is surely its own is kept.
# So much is left out all round, or a neighbour a kerf away would seem to lie on it.
_PLACE_U_MM = 6.0
# Never more than this share of a side.
_MOST_RIM = 0.25


@dataclass(frozen=True, slots=True)
class SeenPiece:
    """Where a piece lay on its board (board frame, mm) and what it was like when it was seen.

    Attributes
    ----------
    thickness
        As it was measured then; None where nobody measured.
    lab
        CIELAB of its clear wood against white paper, as `Looks.lab` but of the face as it was
        then, planed or not; None where no paper lay beside it.
    """

    face: Literal[1, 2]
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    thickness: Measured | None
    lab: Lab | None = None

    @property
    def ground(self) -> Polygon:
        """The wood that is surely of this piece: less than its rectangle, as places have a U."""
        x, y = (min(_PLACE_U_MM, _MOST_RIM * side) for side in (self.length_mm, self.width_mm))
        return box(
            self.x_mm + x,
            self.y_mm + y,
            self.x_mm + self.length_mm - x,
            self.y_mm + self.width_mm - y,
        )


def with_seen(pieces: Iterable[SeenPiece], seen: SeenPiece) -> tuple[SeenPiece, ...]:
    """Return the pieces with one more; earlier looks at the same wood give way to it."""
    whole = box(seen.x_mm, seen.y_mm, seen.x_mm + seen.length_mm, seen.y_mm + seen.width_mm)
    return (*(one for one in pieces if not _is_same_wood(one, whole)), seen)


def _is_same_wood(earlier: SeenPiece, whole: Polygon) -> bool:
    # A piece that was cut in two since lies only half in what is left of it: both are kept, and
    # the thinner counts.
    return bool(whole.covers(earlier.ground))


def thickness_there_mm(
    pieces: Iterable[SeenPiece], corner_mm: tuple[float, float], size_mm: tuple[float, float]
) -> float | None:
    """Return the least thickness of the pieces that a rectangle of the board takes wood of.

    None where no piece of that wood was measured again.
    """
    (x, y), (length, width) = corner_mm, size_mm
    taken = box(x, y, x + length, y + width)
    return min(
        (
            one.thickness.value_mm
            for one in pieces
            if one.thickness is not None and one.ground.intersects(taken)
        ),
        default=None,
    )


def in_frame(pieces: Iterable[SeenPiece], frame: Polygon) -> tuple[SeenPiece, ...]:
    """Return what of the pieces lies in a rectangle of the board, in that rectangle's own frame."""
    left, low, right, high = frame.bounds
    found = []
    for one in pieces:
        x0, x1 = max(one.x_mm, left), min(one.x_mm + one.length_mm, right)
        y0, y1 = max(one.y_mm, low), min(one.y_mm + one.width_mm, high)
        if one.ground.intersects(frame) and x1 > x0 and y1 > y0:
            found.append(
                replace(one, x_mm=x0 - left, y_mm=y0 - low, length_mm=x1 - x0, width_mm=y1 - y0)
            )
    return tuple(found)
