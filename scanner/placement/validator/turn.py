"""The validator's own view of turned parts: their ground, the rectangle round it, the angle."""

import math
from collections.abc import Iterator
from dataclasses import replace

from shapely.geometry import Polygon

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.validator.limits import SAWN
from scanner.placement.validator.objection import Objection, Rule

# So far a part may be turned to follow the grain (the column ``straight_grain``).
MOST_DEG = 15.0
# A part may lie this far off the grain's course: a course is not known better.
OFF_DEG = 1.0


def shape_of(p: Placement, low: float = 0.0, high: float | None = None) -> Polygon:
    """Return the ground of a part, or of its rows from ``low`` to ``high`` mm across it."""
    high = p.width_mm if high is None else high
    cosine, sine = math.cos(math.radians(p.angle_deg)), math.sin(math.radians(p.angle_deg))
    corners = ((0.0, low), (p.length_mm, low), (p.length_mm, high), (0.0, high))
    return Polygon(
        [(p.x_mm + u * cosine - v * sine, p.y_mm + u * sine + v * cosine) for u, v in corners]
    )


def ground_of(p: Placement, part: Part) -> Polygon:
    """Return the ground that has to be clear: a curved part's shape, with its allowance."""
    if part.outline_mm is None:
        return shape_of(p)
    over = p.length_mm - part.length_mm, p.width_mm - part.width_mm
    return drawn_of(p, part).buffer(max(0.0, min(over) / 2))


def drawn_of(p: Placement, part: Part) -> Polygon:
    """Return a curved part's finished shape on the board, end for end where it is so turned."""
    over = p.length_mm - part.length_mm, p.width_mm - part.width_mm
    corners = [(over[0] / 2 + x, over[1] / 2 + y) for x, y in part.outline_mm or ()]
    if p.half_turn:
        corners = [(p.length_mm - x, p.width_mm - y) for x, y in corners]
    return Polygon([(p.x_mm + x, p.y_mm + y) for x, y in corners])


def upright(p: Placement) -> Placement:
    """Return the rectangle round a part, which the saws free."""
    x0, y0, x1, y1 = shape_of(p).bounds
    return replace(p, x_mm=x0, y_mm=y0, length_mm=x1 - x0, width_mm=y1 - y0, angle_deg=0.0)


def turn_objections(p: Placement, part: Part, board: Board) -> Iterator[Objection]:
    """Say what is wrong with the angle of a part."""
    is_glued = part.staves not in ("", "1") and not part.filler
    if part.straight_grain != "follow" or part.match or is_glued or part.outline_mm:
        if p.angle_deg:
            yield Objection.to(p, Rule.ANGLE, "is turned, which it does not ask for")
        return
    if abs(p.angle_deg) > MOST_DEG + 1e-6:
        words = f"is turned by {p.angle_deg:.1f} degrees, more than {MOST_DEG:.0f}"
        yield Objection.to(p, Rule.ANGLE, words)
    if board.grain_deg is None or p.locked or p.state in SAWN:
        return
    off = abs(p.angle_deg - board.grain_deg)
    if off > OFF_DEG + 1e-6:
        yield Objection.to(p, Rule.ANGLE, f"lies {off:.1f} degrees off the grain")
