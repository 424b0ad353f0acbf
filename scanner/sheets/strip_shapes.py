"""Shapes in mm that pages of strip, cross arm and cards are made of, and markers made of them."""

from __future__ import annotations

from dataclasses import dataclass

from scanner.geometry.marker_codes import MODULES, marker_modules
from scanner.geometry.strip_layout import MARKER_MM, MODULE_MM


@dataclass(frozen=True, slots=True)
class Area:
    """A filled polygon; grey 0 is black, 1 white."""

    points: tuple[tuple[float, float], ...]
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line of some width, mm."""

    start: tuple[float, float]
    stop: tuple[float, float]
    width: float = 0.3
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Words:
    """Text with the height of its capitals, mm, starting at a point (or centred on it)."""

    at: tuple[float, float]
    text: str
    height: float = 2.5
    grey: float = 0.0
    centred: bool = False
    turn_deg: float = 0.0


Shape = Area | Stroke | Words


@dataclass(frozen=True, slots=True)
class Page:
    """One landscape page: its size and what is on it, mm."""

    size_mm: tuple[float, float]
    shapes: tuple[Shape, ...]


def _box(x: float, y: float, width: float, height: float, grey: float = 0.0) -> Area:
    return Area(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), grey)


def marker_shapes(marker_id: int, x: float, y: float) -> list[Shape]:
    """Return a marker about its centre: a black square and its white modules."""
    left, top = x - MARKER_MM / 2, y + MARKER_MM / 2
    shapes: list[Shape] = [_box(left, top - MARKER_MM, MARKER_MM, MARKER_MM)]
    modules = marker_modules(marker_id)
    for row in range(MODULES):
        column = 0
        while column < MODULES:
            run = 0
            while column + run < MODULES and modules[row, column + run]:
                run += 1
            if run:
                # One box a run: no hairlines between neighbouring white modules.
                place = (left + column * MODULE_MM, top - (row + 1) * MODULE_MM)
                shapes.append(_box(*place, run * MODULE_MM, MODULE_MM, 1.0))
            column += max(1, run)
    return shapes


def moved(shapes: list[Shape], x: float, y: float) -> list[Shape]:
    """Return shapes shifted to the right and up."""
    out: list[Shape] = []
    for shape in shapes:
        match shape:
            case Area(points, grey):
                out.append(Area(tuple((a + x, b + y) for a, b in points), grey))
            case Stroke((a, b), (c, d), width, grey):
                out.append(Stroke((a + x, b + y), (c + x, d + y), width, grey))
            case Words((a, b), text, height, grey, centred, turn):
                out.append(Words((a + x, b + y), text, height, grey, centred, turn))
    return out


def scaled(shapes: list[Shape], scale: tuple[float, float]) -> list[Shape]:
    """Return shapes stretched along and up the page; line widths and letters stay."""
    sx, sy = scale
    out: list[Shape] = []
    for shape in shapes:
        match shape:
            case Area(points, grey):
                out.append(Area(tuple((a * sx, b * sy) for a, b in points), grey))
            case Stroke((a, b), (c, d), width, grey):
                out.append(Stroke((a * sx, b * sy), (c * sx, d * sy), width, grey))
            case Words((a, b), text, height, grey, centred, turn):
                out.append(Words((a * sx, b * sy), text, height, grey, centred, turn))
    return out
