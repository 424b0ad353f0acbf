"""Hold what is drawn on a board against its layout: which line is off, missing, or turned round."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from shapely import LineString, get_parts

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from shapely.geometry import Polygon

    from scanner.placement.layout import Placement

Point = tuple[float, float]
Side = Literal["A", "B", "upper", "lower"]
# What the user draws may be off by so much before it is said.
MOST_OFF_MM = 6.0
# Sides of two parts so near each other are a saw's kerf apart: one line between serves both.
_KERF_APART_MM = 10.0
# Further off a line is another line, or none of these.
REACH_MM = 70.0
# The pattern of another face or end must explain so much of what is drawn, and the right one so
# much less, before it is said.
_TURNED_SHARE, _TURNED_MORE = 0.6, 0.3
# A line along the arris lies on wood; of one across it so much must be seen to be asked for.
_AT_THE_ARRIS_MM, _DRAWABLE_SHARE = 1.0, 0.4
# On bare wood a bright arris or a pale streak passes for a line here and there, but not for a
# part: so few lines, and no part with so many sides, were not drawn.
_HARDLY_SHARE, _SIDES_OF_A_PART = 0.25, 3
Pattern = Literal["planned", "from the wrong end", "as for the other face", "turned both ways"]


@dataclass(frozen=True, slots=True)
class WantedLine:
    """One side of a part as it is to be drawn, board frame as the person sees the face, mm.

    ``side``: toward which end, or the upper or lower edge as seen with end A left.
    """

    part: str
    side: Side
    begin: Point
    end: Point


@dataclass(frozen=True, slots=True)
class JudgedLine:
    """A wanted line and what is drawn for it.

    Attributes
    ----------
    off_mm
        How far off it is drawn: toward end B or the lower edge is positive. None: not drawn.
    """

    line: WantedLine
    off_mm: float | None

    @property
    def is_right(self) -> bool:
        """Whether it is drawn where it belongs."""
        return self.off_mm is not None and abs(self.off_mm) <= MOST_OFF_MM

    @property
    def text(self) -> str:
        """The mistake in words."""
        what = (
            f"the end toward {self.line.side}"
            if self.line.side in "AB"
            else f"the {self.line.side} edge"
        )
        if self.off_mm is None:
            return f"{self.line.part}: no line is seen for {what}"
        if self.line.side in "AB":
            toward = "end B" if self.off_mm > 0 else "end A"
        else:
            toward = "the lower edge" if self.off_mm > 0 else "the upper edge"
        return (
            f"{self.line.part}: the line for {what} is {abs(self.off_mm):.0f} mm too near {toward}"
        )


@dataclass(frozen=True, slots=True)
class MarksVerdict:
    """All lines judged, and whether the drawing is of the planned side at all."""

    lines: tuple[JudgedLine, ...]
    pattern: Pattern

    @property
    def mistakes(self) -> tuple[str, ...]:
        """What to mend before the saw runs, in sentences."""
        if self.pattern != "planned":
            return (f"the parts seem drawn {self.pattern}: look before you saw",)
        return tuple(line.text for line in self.lines if not line.is_right)


def mistakes_by_part(verdict: MarksVerdict) -> tuple[str, ...]:
    """Return the mistakes; a part of which nothing is drawn is one of them, not four.

    Of a photo of bare wood that alone is said.
    """
    if verdict.pattern != "planned":
        return verdict.mistakes
    seen = [line.line.part for line in verdict.lines if line.off_mm is not None]
    is_a_part_drawn = any(seen.count(part) >= _SIDES_OF_A_PART for part in seen)
    if not is_a_part_drawn and len(seen) <= _HARDLY_SHARE * len(verdict.lines):
        much = "hardly a line is seen" if seen else "no line is seen anywhere"
        return (f"{much}: was this photo taken before the parts were drawn?",)
    said: list[str] = []
    for part in dict.fromkeys(line.line.part for line in verdict.lines):
        lines = [line for line in verdict.lines if line.line.part == part]
        if all(line.off_mm is None for line in lines):
            said.append(f"{part}: none of its lines is seen")
        else:
            said += [line.text for line in lines if not line.is_right]
    return tuple(said)


def wanted_lines(
    placements: Sequence[Placement],
    name: Callable[[Placement], str],
    width_mm: float,
    *,
    is_back: bool,
) -> tuple[WantedLine, ...]:
    """Return the sides of upright parts as they are to be drawn on a face, seen with end A left.

    Parameters
    ----------
    width_mm
        Of the board: on the back (face 2) y runs the other way, however the board was turned over.
    """
    lines: list[WantedLine] = []
    for place in placements:
        if place.angle_deg:
            continue
        x0, x1 = place.x_mm, place.x_mm + place.length_mm
        y0, y1 = place.y_mm, place.y_mm + place.width_mm
        if is_back:
            y0, y1 = width_mm - y1, width_mm - y0
        part = name(place)
        lines += [
            WantedLine(part, "A", (x0, y0), (x0, y1)),
            WantedLine(part, "B", (x1, y0), (x1, y1)),
            WantedLine(part, "upper", (x0, y0), (x1, y0)),
            WantedLine(part, "lower", (x0, y1), (x1, y1)),
        ]
    return tuple(lines)


def lines_on_wood(lines: Sequence[WantedLine], wood: Polygon) -> tuple[WantedLine, ...]:
    """Return the wanted lines as far as they can be drawn: on the wood.

    The square blank of a curved part may reach over the board's edge; a line of which too little
    lies on wood is left out.

    Parameters
    ----------
    wood
        Of the face, in the frame of the lines, mm.
    """
    ground = wood.buffer(_AT_THE_ARRIS_MM)
    found: list[WantedLine] = []
    for line in lines:
        whole = LineString([line.begin, line.end])
        there = whole.intersection(ground)
        pieces = [piece for piece in get_parts(there) if piece.geom_type == "LineString"]
        longest = max(pieces, key=lambda piece: piece.length, default=None)
        if longest is None or longest.length < _DRAWABLE_SHARE * whole.length:
            continue
        if longest.length < whole.length - _AT_THE_ARRIS_MM:
            begin, end = sorted((float(x), float(y)) for x, y in longest.coords)
            line = replace(line, begin=begin, end=end)
        found.append(line)
    return tuple(found)


def judge_marks(
    lines: Sequence[WantedLine],
    offsets: Callable[[Point, Point, float], Sequence[float]],
    size_mm: tuple[float, float],
) -> MarksVerdict:
    """Judge each wanted line by where lines are drawn near it.

    Parameters
    ----------
    offsets
        Where lines are drawn beside a line from one point to another, up to a distance; see
        ``vision.second_look.drawn.line_offsets``.
    size_mm
        Length and width of the board.
    """
    right: dict[Pattern, float] = {}
    judged: tuple[JudgedLine, ...] = ()
    for pattern in ("planned", "from the wrong end", "as for the other face", "turned both ways"):
        tried = tuple(_turned(line, pattern, size_mm) for line in lines)
        result = tuple(JudgedLine(line, _off_mm(line, tried, offsets)) for line in tried)
        right[pattern] = sum(one.is_right for one in result) / max(len(result), 1)
        if pattern == "planned":
            judged = result
    best = max(right, key=lambda pattern: right[pattern])
    if right[best] < _TURNED_SHARE or right[best] < right["planned"] + _TURNED_MORE:
        best = "planned"
    return MarksVerdict(judged, best)


def _turned(line: WantedLine, pattern: Pattern, size_mm: tuple[float, float]) -> WantedLine:
    flip_x = pattern in ("from the wrong end", "turned both ways")
    flip_y = pattern in ("as for the other face", "turned both ways")

    def moved(point: Point) -> Point:
        x, y = point
        return (size_mm[0] - x if flip_x else x, size_mm[1] - y if flip_y else y)

    ends = sorted((moved(line.begin), moved(line.end)))
    return WantedLine(line.part, line.side, ends[0], ends[1])


def _off_mm(
    line: WantedLine,
    lines: Sequence[WantedLine],
    offsets: Callable[[Point, Point, float], Sequence[float]],
) -> float | None:
    across = line.side in "AB"
    here = _place(line)
    # What lies left of a line along +x is at smaller y, left of one along +y at larger x.
    sign = 1.0 if across else -1.0
    found = [sign * off for off in offsets(line.begin, line.end, REACH_MM)]
    near = [off for off in found if abs(off) <= MOST_OFF_MM]
    if near:
        return min(near, key=abs)
    others = [_place(other) - here for other in lines if other is not line and _beside(line, other)]
    between = [
        off
        for off in found
        for other in others
        if abs(other) <= _KERF_APART_MM and min(0.0, other) <= off <= max(0.0, other)
    ]
    if between:
        return math.copysign(MOST_OFF_MM, min(between, key=abs))
    free = [off for off in found if all(abs(off - other) > MOST_OFF_MM for other in others)]
    return min(free, key=abs) if free else None


def _place(line: WantedLine) -> float:
    return line.begin[0] if line.side in "AB" else line.begin[1]


def _beside(line: WantedLine, other: WantedLine) -> bool:
    """Whether another line runs along enough of this one to be what is drawn there."""
    if (line.side in "AB") != (other.side in "AB"):
        return False
    axis = 1 if line.side in "AB" else 0
    low = max(line.begin[axis], other.begin[axis])
    high = min(line.end[axis], other.end[axis])
    length = line.end[axis] - line.begin[axis]
    return bool(high - low > 0.4 * length) and not np.isclose(_place(line), _place(other))
