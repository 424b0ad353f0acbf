"""Shapes in mm that pages of strip, cross arm and cards are made of, and markers made of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.geometry.card_codes import CARD_BITS, card_modules
from scanner.geometry.marker_codes import marker_modules
from scanner.geometry.strip_layout import CARD_MARKER_MM, MODULE_MM

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray


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
    """Return a marker of the strip about its centre: a black square and its white modules."""
    return _modules(marker_modules(marker_id), MODULE_MM, x, y)


def card_marker_shapes(marker_id: int, x: float, y: float) -> list[Shape]:
    """Return the marker of a board card about its centre."""
    return _modules(card_modules(marker_id), CARD_MARKER_MM / (CARD_BITS + 2), x, y)


def _modules(modules: NDArray[np.bool_], module_mm: float, x: float, y: float) -> list[Shape]:
    count = len(modules)
    side = count * module_mm
    left, top = x - side / 2, y + side / 2
    shapes: list[Shape] = [_box(left, top - side, side, side)]
    for row in range(count):
        column = 0
        while column < count:
            run = 0
            while column + run < count and modules[row, column + run]:
                run += 1
            if run:
                # One box a run: no hairlines between neighbouring white modules.
                place = (left + column * module_mm, top - (row + 1) * module_mm)
                shapes.append(_box(*place, run * module_mm, module_mm, 1.0))
            column += max(1, run)
    return shapes


def moved(shapes: list[Shape], x: float, y: float) -> list[Shape]:
    """Return shapes shifted to the right and up."""
    return _each_point(shapes, lambda point: (point[0] + x, point[1] + y))


def scaled(shapes: list[Shape], scale: tuple[float, float]) -> list[Shape]:
    """Return shapes stretched along and up the page; line widths and letters stay."""
    return _each_point(shapes, lambda point: (point[0] * scale[0], point[1] * scale[1]))


def _each_point(
    shapes: list[Shape], to: Callable[[tuple[float, float]], tuple[float, float]]
) -> list[Shape]:
    out: list[Shape] = []
    for shape in shapes:
        match shape:
            case Area(points):
                out.append(replace(shape, points=tuple(map(to, points))))
            case Stroke(start, stop):
                out.append(replace(shape, start=to(start), stop=to(stop)))
            case Words(at):
                out.append(replace(shape, at=to(at)))
    return out
