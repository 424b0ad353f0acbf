"""Lay a face that was photographed once more over the same face as it is known."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from shapely import affinity

from scanner.board.join import edges_onto, moved_reading, turned_and_moved
from scanner.board.partners import partners
from scanner.board.reading import FaceReading
from scanner.errors import BoardError
from scanner.geometry.polygons import mirrored

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.board.board import Board

# Ways that agree this nearly are for the user to choose between.
_CLEARLY_MM = 0.5
_KNOT_COUNTS_MM = 0.7
# What two lengths of one face differ by at most, and two outlines and their flaws, mm, before the
# photo is of another board (our own choice).
_MOST_APART = 0.02
_ANOTHER_BOARD_MM = 12.0


@dataclass(frozen=True, slots=True)
class LaidAgain:
    """Where a newly seen face lies on the board.

    Attributes
    ----------
    face
        1 or 2.
    known_from_new
        Affine (a, b, d, e, dx, dy) of shapely: from the new face's own view to the known face as a
        person sees it with end A left.
    is_clear
        False where another face or end would fit nearly as well.
    """

    face: int
    known_from_new: tuple[float, float, float, float, float, float]
    is_clear: bool

    @property
    def new_from_known(self) -> tuple[float, float, float, float, float, float]:
        """The way back: affine from the known face to the new face's own view."""
        a, b, d, e, dx, dy = self.known_from_new
        back = np.linalg.inv(np.array([[a, b], [d, e]]))
        x0, y0 = -back @ (dx, dy)
        a, b, d, e = (float(v) for v in back.ravel())
        return a, b, d, e, float(x0), float(y0)


def seen_with_end_a_left(board: Board, face: int, shape: Polygon) -> Polygon:
    """Return a shape of the board frame as a person sees it on a face with end A at the left."""
    if face == 1:
        return shape
    _, _, length, width = board.faces[1].outline.bounds
    return mirrored(shape, "sideways", length, width)


def lay_again(board: Board, new: FaceReading, face: int | None = None) -> LaidAgain:
    """Find which face of a board, lying which way round, was photographed again.

    Parameters
    ----------
    new
        The face in its own view.
    face
        Where the user said which face it is.

    Raises
    ------
    BoardError
        The face is not of this board.
    """
    ways = []
    for number in (1, 2) if face is None else (face,):
        known = _known(board, number)
        for is_turned in (False, True):
            over = _turned_round(new) if is_turned else new
            # The same wood twice: what the two lengths differ by is scale, not wood.
            stretch = known.outline.bounds[2] / over.outline.bounds[2]
            over = _stretched(over, stretch)
            tried = []
            # The same face twice has the same wood, wherever its arris was seen.
            for a, b in ((known, over), (_whole(known), _whole(over))):
                turn, shift = edges_onto(a, b)
                laid = moved_reading(over, partial(turned_and_moved, turn_rad=turn, shift_mm=shift))
                tried.append((_cost(known, laid), turn, shift))
            cost, turn, shift = min(tried)
            ways.append((cost, number, is_turned, stretch, turn, shift))
    ways.sort(key=lambda way: way[0])
    cost, number, is_turned, stretch, turn, shift = ways[0]
    if abs(stretch - 1) > _MOST_APART or cost > _ANOTHER_BOARD_MM:
        raise BoardError(
            f"the photo does not seem to show {board.id}",
            "photograph the marked face of that board, whole and beside the rule",
        )
    is_clear = len(ways) == 1 or ways[1][0] - cost >= _CLEARLY_MM
    _, _, length, width = new.outline.bounds
    return LaidAgain(number, _matrix(is_turned, (length, width), stretch, turn, shift), is_clear)


def _whole(reading: FaceReading) -> FaceReading:
    """Return a face whose outline is all of its wood."""
    return replace(reading, outline=reading.wood)


def _known(board: Board, face: int) -> FaceReading:
    flaws = tuple(
        replace(flaw, outlines={1: seen_with_end_a_left(board, face, flaw.outlines[face])})
        for flaw in board.flaws_on(face)
    )
    outline = seen_with_end_a_left(board, face, board.faces[face].outline)
    return FaceReading(outline, flaws, board.length, board.widths, 0.0, board.outline_u_mm)


def _turned_round(new: FaceReading) -> FaceReading:
    _, _, length, width = new.outline.bounds
    return moved_reading(
        new, lambda shape: affinity.affine_transform(shape, (-1, 0, 0, -1, length, width))
    )


def _stretched(new: FaceReading, by: float) -> FaceReading:
    return moved_reading(
        new, lambda shape: affinity.scale(shape, xfact=by, yfact=1.0, origin=(0, 0))
    )


def _cost(known: FaceReading, laid: FaceReading) -> float:
    """Return how badly they agree, mm: outlines, less knots and other flaws found again."""
    outline = float(known.wood.symmetric_difference(laid.wood).area / known.wood.length)
    # The same face twice: a flaw lies where it lay, so no thickness lets it wander.
    return outline - _KNOT_COUNTS_MM * len(partners(known.flaws, laid.flaws, 3.0))


def _matrix(
    is_turned: bool,
    size_mm: tuple[float, float],
    stretch: float,
    turn: float,
    shift: tuple[float, float],
) -> tuple[float, float, float, float, float, float]:
    sine, cosine = math.sin(turn), math.cos(turn)
    sign = -1.0 if is_turned else 1.0
    x0, y0 = (size_mm[0] * stretch, size_mm[1]) if is_turned else (0.0, 0.0)
    return (
        cosine * sign * stretch,
        -sine * sign,
        sine * sign * stretch,
        cosine * sign,
        cosine * x0 - sine * y0 + shift[0],
        sine * x0 + cosine * y0 + shift[1],
    )
