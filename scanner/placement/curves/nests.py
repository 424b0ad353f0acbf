"""Curved parts of one kind nested into each other: how copies lie so that they need less wood.

Copies lie one behind another along the grain or one above another across it, each as it is or
turned end for end; never mirrored, since the part would become its mirror image. Between two
shapes, each with its allowance all round, one cut of the band saw finds room.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from scanner.placement.curves.shapes import rough_shape
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm

MOST_COPIES = 4
# A nest that saves less than this of the rectangles is not worth drawing curves that close.
LEAST_GAIN = 0.03
# Every second copy is tried moved aside by these shares of the blank.
_ASIDE = tuple(n / 8 for n in range(-4, 5))
# Finer corners are left out while places are sought; the shapes keep that much more apart.
_FINE_MM = 0.05
_STEP_MM = 0.1
# The whole nest's ground is told to the search by an outline of so many steps.
_STATIONS = 96

Direction = Literal["along", "across"]


@dataclass(frozen=True, slots=True)
class Nested:
    """One copy in its nest: corner of its blank from the nest's corner, mm; turned end for end."""

    x_mm: float
    y_mm: float
    half_turn: bool


@dataclass(frozen=True, slots=True)
class Nest:
    """Copies of one curved part in one blank of this size, mm.

    ``gain``: the share of the rectangles' wood, kerfs counted, that the nest saves.
    ``outline_mm``: the ground that all copies together take, from the blank's corner.
    """

    copies: tuple[Nested, ...]
    length_mm: float
    width_mm: float
    gain: float
    outline_mm: tuple[tuple[float, float], ...]


def nests_of(part: Part, shop: Shop) -> tuple[Nest, ...]:
    """Return the nests of a curved part that save wood, most first; one a number and direction."""
    if part.outline_mm is None:
        return ()
    length, width = rough_size_mm(part, shop)
    coords = tuple(rough_shape(part, shop).exterior.coords)
    return _nests(coords, length, width, shop.kerf_mm)


@lru_cache(maxsize=64)
def _nests(
    coords: tuple[tuple[float, ...], ...], length: float, width: float, kerf: float
) -> tuple[Nest, ...]:
    exact = Polygon(coords)
    coarse = exact.simplify(_FINE_MM)
    turned = {half: _turned(coarse, (length, width), half) for half in (False, True)}
    found: list[Nest] = []
    ways: tuple[Direction, Direction] = ("along", "across")
    for way in ways:
        best: dict[int, tuple[float, tuple[Nested, ...]]] = {}
        # Which of two shapes lies before the other depends on how the drawing is turned.
        for halves in ((False, True), (True, False), (False, False)):
            for share in _ASIDE:
                aside = share * (width if way == "along" else length)
                row = _row(turned, halves, aside, way, (length, width), kerf)
                for count in range(2, MOST_COPIES + 1):
                    area = _area(row[:count], (length, width), kerf)
                    if count not in best or area < best[count][0] - 1e-6:
                        best[count] = area, row[:count]
        single = (length + kerf) * (width + kerf)
        for count, (area, copies) in best.items():
            gain = 1 - area / (count * single)
            if gain >= LEAST_GAIN:
                found.append(_nest(copies, exact, (length, width), gain))
    return tuple(sorted(found, key=lambda nest: -nest.gain))


def _turned(shape: Polygon, size: tuple[float, float], half: bool) -> Polygon:
    """Return a shape on its blank, turned end for end where asked."""
    if not half:
        return shape
    return affinity.rotate(shape, 180.0, origin=(size[0] / 2, size[1] / 2))


def _row(
    turned: dict[bool, Polygon],
    halves: tuple[bool, bool],
    aside: float,
    way: Direction,
    size: tuple[float, float],
    kerf: float,
) -> tuple[Nested, ...]:
    """Lay copies one after another, each as near to those before it as the saw allows.

    ``halves``: whether the first, third ... copy is turned end for end, and the second, fourth ...
    """
    step = (1.0, 0.0) if way == "along" else (0.0, 1.0)
    most = (size[0] if way == "along" else size[1]) + kerf
    lying: list[tuple[Nested, Polygon]] = []
    for n in range(MOST_COPIES):
        half = halves[n % 2]
        off = round(aside, 1) if n % 2 else 0.0
        start = (off * step[1], off * step[0])
        shape = affinity.translate(turned[half], *start)
        after = (lying[-1][0].x_mm if way == "along" else lying[-1][0].y_mm) if lying else 0.0
        at = _nearest(shape, [s for _, s in lying], step, after, after + most, kerf)
        place = Nested(round(start[0] + at * step[0], 1), round(start[1] + at * step[1], 1), half)
        lying.append((place, affinity.translate(shape, at * step[0], at * step[1])))
    return tuple(place for place, _ in lying)


def _nearest(
    shape: Polygon,
    lying: Sequence[Polygon],
    step: tuple[float, float],
    low: float,
    high: float,
    kerf: float,
) -> float:
    """Return the least way along ``step`` at which a kerf fits between shape and all others."""
    if not lying:
        return 0.0
    others = unary_union(list(lying))
    shapely.prepare(others)
    apart = kerf + 2 * _FINE_MM
    way = np.array(step)

    def is_free(at: float) -> bool:
        moved = shapely.transform(shape, lambda points: points + at * way)
        return not shapely.dwithin(others, moved, apart)

    while not is_free(high):
        high += _STEP_MM
    first, last = math.floor(low / _STEP_MM), math.ceil(high / _STEP_MM)
    while last - first > 1:
        middle = (first + last) // 2
        if is_free(middle * _STEP_MM):
            last = middle
        else:
            first = middle
    return round(last * _STEP_MM, 1)


def _extent(
    copies: Sequence[Nested], size: tuple[float, float]
) -> tuple[float, float, float, float]:
    x0, y0 = min(c.x_mm for c in copies), min(c.y_mm for c in copies)
    x1, y1 = max(c.x_mm for c in copies) + size[0], max(c.y_mm for c in copies) + size[1]
    return x0, y0, x1, y1


def _area(copies: Sequence[Nested], size: tuple[float, float], kerf: float) -> float:
    x0, y0, x1, y1 = _extent(copies, size)
    return (x1 - x0 + kerf) * (y1 - y0 + kerf)


def _nest(copies: Sequence[Nested], shape: Polygon, size: tuple[float, float], gain: float) -> Nest:
    x0, y0, x1, y1 = _extent(copies, size)
    own = tuple(Nested(round(c.x_mm - x0, 1), round(c.y_mm - y0, 1), c.half_turn) for c in copies)
    shapes = [affinity.translate(_turned(shape, size, c.half_turn), c.x_mm, c.y_mm) for c in own]
    length, width = round(x1 - x0, 3), round(y1 - y0, 3)
    return Nest(own, length, width, gain, _steps_round(shapes, length))


def _steps_round(shapes: Sequence[Polygon], length: float) -> tuple[tuple[float, float], ...]:
    """Return an outline in steps that holds all the shapes, as low and high as they are there."""
    every = unary_union(list(shapes))
    low0, high0 = every.bounds[1], every.bounds[3]
    below: list[tuple[float, float]] = []
    above: list[tuple[float, float]] = []
    edges = np.linspace(0.0, length, _STATIONS + 1)
    low = high = (low0 + high0) / 2
    for x0, x1 in pairwise(edges):
        there = every.intersection(box(x0, low0 - 1, x1, high0 + 1))
        if not there.is_empty:
            _, low, _, high = there.bounds
        below += [(float(x0), low), (float(x1), low)]
        above += [(float(x0), max(high, low + _STEP_MM)), (float(x1), max(high, low + _STEP_MM))]
    return (*below, *reversed(above))
