"""Marks told by their course: which loops, X's and lines across a hand drew, and in what colour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import cv2
import numpy as np

from scanner.vision.flaws.chalk_colour import (
    BLACK_DARKENS,
    BLUE_YELLOW,
    colour_name,
    gates,
    is_no_wood,
)
from scanner.vision.flaws.dabs import without_grain
from scanner.vision.flaws.drawn_loops import loops_gone_round
from scanner.vision.flaws.drawn_straight import crosses_gone_along, lines_gone_along

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from scanner.vision.flaws.along_course import Carried, Course
    from scanner.vision.flaws.chalk_colour import Bools
    from scanner.vision.flaws.closer_look import SeenColours

Drawn = Literal["loop", "X", "line"]
# A pixel that a course may go through: so unusual (units), and darker by so much if it is dark.
_MAY_BE_UNITS, _MAY_BE_DARK = 3.5, -7.0
# Of 24 parts so many carry ink, with so long a gap, and the stroke strays so little, px of a
# millimetre from part to part: what 76 development faces show of drawn marks and of wood.
_LEAST_PARTS: dict[Drawn, int] = {"loop": 21, "X": 22, "line": 19}
_LONGEST_GAP: dict[Drawn, int] = {"loop": 2, "X": 2, "line": 5}
_STRAYS_PX: dict[Drawn, float] = {"loop": 1.45, "X": 1.6, "line": 1.0}
# How far off the wood the ink is, in units of the board's own spread. Black must be further off, as
# it is told from dark figure by its greyness alone, unless the stroke is steadier than figure is.
_LEAST_UNITS = 5.0
_LEAST_BLACK_UNITS: dict[Drawn, float] = {"loop": 6.0, "X": 8.0, "line": 6.0}
_LEAST_STEADY_UNITS: dict[Drawn, float] = {"loop": 4.0, "X": 8.0, "line": 4.0}
_STEADY, _STEADY_GAP = 0.75, 1
# Black crayon adds at most so much yellow and red of the light it takes.
_GREY_YELLOW, _GREY_RED = 0.08, 0.22
# A dark ring with wood inside that is darker by this, and by this share of the ring, is a knot's.
_DARKER_INSIDE, _SHARE_INSIDE = 6.0, 0.35
_STROKE_PX = 6
# A hand's mark is at least so large, px of a millimetre, and no flatter.
_LEAST_SIZE_PX, _FLAT = 28.0, 0.36


class DrawnMark(NamedTuple):
    """A mark told by its course.

    ``corner``: (x, y) of its box, px of the grid; ``region``: (h, w), its strokes in the box.
    """

    says: Drawn
    colour: str
    corner: tuple[int, int]
    region: Bools
    units: float


def drawn_marks(seen: SeenColours) -> Iterator[DrawnMark]:
    """Yield the loops, X's and lines across that are drawn, told by going along them."""
    bright, _ = gates(seen.off)
    may_be = bright | (seen.off[..., 0] < _MAY_BE_DARK)
    may_be = without_grain(seen.wood & (seen.units > _MAY_BE_UNITS) & may_be & ~seen.rim)
    looks: tuple[tuple[Drawn, list[Course]], ...] = (
        ("loop", loops_gone_round(seen, may_be)),
        ("X", crosses_gone_along(seen, may_be)),
        ("line", lines_gone_along(seen)),
    )
    for says, courses in looks:
        for course in courses:
            colour = _ink_of(says, course.carries)
            if colour and _is_drawn(says, course):
                yield _as_mark(says, colour, course, seen.wood)


def _is_drawn(says: Drawn, course: Course) -> bool:
    carries = course.carries
    wide, high = np.ptp(np.vstack(course.strokes), axis=0) + _STROKE_PX
    # An ellipse fills pi / 4 of its box.
    if says != "line" and (
        np.sqrt(np.pi / 4 * wide * high) < _LEAST_SIZE_PX
        or min(wide, high) < _FLAT * max(wide, high)
    ):
        return False
    return bool(
        carries.has_ink.sum() >= _LEAST_PARTS[says]
        and carries.longest_gap <= _LONGEST_GAP[says]
        and carries.strays_px <= _STRAYS_PX[says]
    )


def _ink_of(says: Drawn, carries: Carried) -> str:
    """Return the name of an ink, or nothing where wood may have this colour."""
    light, red, yellow = (float(off) for off in carries.spread)
    is_grey = yellow < _GREY_YELLOW * abs(light) and red < _GREY_RED * abs(light)
    is_black = is_grey and carries.ink[0] < -BLACK_DARKENS and light < 0
    inside = float(carries.one_side[0] - carries.other_side[0])
    is_knot = says == "loop" and inside < -max(
        _DARKER_INSIDE, _SHARE_INSIDE * abs(float(carries.ink[0]))
    )
    if is_black and yellow > -BLUE_YELLOW * abs(light):
        is_steady = (
            carries.strays_px <= _STEADY * _STRAYS_PX[says] and carries.longest_gap <= _STEADY_GAP
        )
        least = (_LEAST_STEADY_UNITS if is_steady else _LEAST_BLACK_UNITS)[says]
        return "dark" if carries.ink_units >= least and not is_knot else ""
    ink, spread = (np.asarray(off, np.float32)[None, None] for off in (carries.ink, carries.spread))
    if carries.ink_units < _LEAST_UNITS or not (gates(ink)[0].item() and gates(spread)[0].item()):
        return ""
    colour = colour_name(ink[0, 0])
    beside = 0.5 * (carries.one_side + carries.other_side)
    is_certain = is_no_wood(colour, np.asarray(beside, np.float32)[None] + ink[0], ink[0])
    return colour if is_certain or not is_knot else ""


def _as_mark(says: Drawn, colour: str, course: Course, wood: Bools) -> DrawnMark:
    canvas = np.zeros(wood.shape, np.uint8)
    paths: list[NDArray[np.int32]] = [np.rint(one).astype(np.int32) for one in course.strokes]
    cv2.polylines(canvas, paths, says == "loop", 1, _STROKE_PX)
    canvas &= wood.astype(np.uint8)
    x, y, w, h = cv2.boundingRect(canvas)
    region = canvas[y : y + h, x : x + w] > 0
    return DrawnMark(says, colour, (x, y), region, course.carries.ink_units)
