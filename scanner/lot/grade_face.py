"""A face as a grader sees it: a rectangle in feet and inches, and what no cutting may cover."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely.geometry import Polygon, box

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind
from scanner.lot.cuttings import Rectangle
from scanner.units import inches_from_mm

# Clear face: what the graded side may not show. Mineral streaks and wild grain are no defect by
# themselves; a stain is counted, as a picture does not tell a mineral streak from a sticker's.
_BAD_ON_FACE = frozenset(FlawKind) - {FlawKind.WILD_GRAIN, FlawKind.PITCH}
# Reverse: it need only be sound. Sound knots and stains may be there (NHLA 2019, paragraph 31);
# holes are allowed there in numbers, which are not counted here.
_BAD_ON_REVERSE = frozenset(
    {
        FlawKind.ROT,
        FlawKind.PITH,
        FlawKind.SHAKE,
        FlawKind.WANE,
        FlawKind.SPLIT,
        FlawKind.HOLE,
        FlawKind.MARKED,
    }
)
# The outline is followed in steps of a foot, as a grader's eye does, to an eighth of an inch.
_STEP_FT = 1.0
_EIGHTH_IN = 0.125


@dataclass(frozen=True, slots=True)
class GradedFace:
    """A face for grading: its enclosing rectangle and the bad places on it.

    Attributes
    ----------
    length_ft, width_in
        The rectangle that encloses the face.
    bad
        What no clear-face cutting may cover, wood outside the outline included.
    """

    length_ft: float
    width_in: float
    bad: tuple[Rectangle, ...]


def graded_face(board: Board, face: int) -> GradedFace:
    """Return face 1 or 2 of a board for grading, the reverse's unsound places counted too."""
    outline = board.faces[face].outline
    reverse = board.faces[3 - face].outline
    x0, y0, x1, y1 = outline.bounds
    bad = [*_outside(outline, outline.bounds), *_outside(reverse, outline.bounds)]
    for flaw in board.flaws:
        if not flaw.counts:
            continue
        if face in flaw.outlines and flaw.kind in _BAD_ON_FACE:
            bad.append(_enclosing(flaw.outlines[face], x0, y0))
        elif 3 - face in flaw.outlines and _weakens(flaw):
            bad.append(_enclosing(flaw.outlines[3 - face], x0, y0))
    return GradedFace(inches_from_mm(x1 - x0) / 12, inches_from_mm(y1 - y0), tuple(bad))


def _weakens(flaw: Flaw) -> bool:
    if flaw.kind is FlawKind.KNOT:
        return flaw.sound is not True
    return flaw.kind in _BAD_ON_REVERSE


def _enclosing(shape: Polygon, x0: float, y0: float) -> Rectangle:
    left, top, right, bottom = shape.bounds
    return Rectangle(
        inches_from_mm(left - x0) / 12,
        inches_from_mm(top - y0),
        inches_from_mm(right - x0) / 12,
        inches_from_mm(bottom - y0),
    )


def _outside(outline: Polygon, frame: tuple[float, float, float, float]) -> Iterator[Rectangle]:
    """Yield the places of the frame that lie outside the outline, step by step along it."""
    x0, y0, x1, y1 = frame
    length, width = inches_from_mm(x1 - x0) / 12, inches_from_mm(y1 - y0)
    places = np.append(np.arange(0.0, length, _STEP_FT), length)
    for start, stop in pairwise(places):
        left, right = x0 + (x1 - x0) * start / length, x0 + (x1 - x0) * stop / length
        top, bottom = _clear_band(outline, left, right)
        above = np.ceil(inches_from_mm(top - y0) / _EIGHTH_IN - 0.1) * _EIGHTH_IN
        below = np.floor(inches_from_mm(bottom - y0) / _EIGHTH_IN + 0.1) * _EIGHTH_IN
        if above > 0:
            yield Rectangle(float(start), 0.0, float(stop), float(min(above, width)))
        if below < width - _EIGHTH_IN / 2:
            yield Rectangle(float(start), float(max(below, 0.0)), float(stop), width)


def _clear_band(outline: Polygon, left: float, right: float) -> tuple[float, float]:
    """Return the highest and lowest y that are wood all the way from left to right."""
    _, y0, _, y1 = outline.bounds
    tops, bottoms = [], []
    # The end itself is seldom square: a slice begins and stops a hair inside it.
    for x in np.linspace(left, right, 9)[1:-1]:
        column = outline.intersection(box(x - 0.01, y0 - 1, x + 0.01, y1 + 1))
        if column.is_empty:
            return y1, y1
        tops.append(column.bounds[1])
        bottoms.append(column.bounds[3])
    return max(tops), min(bottoms)
