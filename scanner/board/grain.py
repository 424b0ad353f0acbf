"""The course of a board's grain from what is known of it: its cracks, and its faces' pictures."""

import math
from collections.abc import Iterable

from scanner.board.board import Board
from scanner.board.flaw import FlawKind, FlawState

# Cracks that open along the fibres; a shake follows the rings.
_ALONG_FIBRES = (FlawKind.CHECK, FlawKind.SPLIT)
# Shorter or wider than this a crack's outline says little of its direction.
_LEAST_LENGTH_MM = 40.0
_LEAST_SLENDER = 5.0
# Pictures of both faces that differ by more are no measure of one course.
_MOST_APART_DEG = 4.0


def course_of_cracks_deg(board: Board) -> float | None:
    """Return the mean direction of the cracks that somebody said are there, weighted by length.

    A drying check opens along the fibres, so graders read the slope of grain off it where nothing
    else shows it (common practice). Degrees from x towards y.
    """
    total = turned = 0.0
    for flaw in board.flaws:
        if flaw.kind not in _ALONG_FIBRES or flaw.state in (FlawState.POSSIBLE, FlawState.STRUCK):
            continue
        for shape in flaw.outlines.values():
            box = shape.minimum_rotated_rectangle
            if box.geom_type != "Polygon":
                continue
            (x0, y0), (x1, y1), (x2, y2) = list(box.exterior.coords)[:3]
            sides = sorted(((x1 - x0, y1 - y0), (x2 - x1, y2 - y1)), key=lambda v: math.hypot(*v))
            short, (dx, dy) = math.hypot(*sides[0]), sides[1]
            length = math.hypot(dx, dy)
            if length >= _LEAST_LENGTH_MM and length >= _LEAST_SLENDER * short:
                total += length
                turn = math.atan2(dy, dx) if dx > 0 else math.atan2(-dy, -dx)
                turned += length * math.degrees(turn)
    return turned / total if total else None


def course_deg(board: Board, of_faces: Iterable[float | None]) -> float | None:
    """Return the board's course: its cracks' where it has some, else what both faces agree on."""
    cracks = course_of_cracks_deg(board)
    if cracks is not None:
        return cracks
    seen = [angle for angle in of_faces if angle is not None]
    if not seen or max(seen) - min(seen) > _MOST_APART_DEG:
        return None
    return sum(seen) / len(seen)
