"""Repair, shrink and compare polygons; everything survives empty input."""

from collections.abc import Iterable, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from shapely import affinity, make_valid
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

# Places for a name are looked for along so many lines across a shape.
_LINES_ACROSS = 24
# A short name is about so many times as long as it is high.
_WORD_ASPECT = 5.0


def largest_polygon(shape: BaseGeometry) -> Polygon:
    """Return the largest polygon in a shape, or an empty one."""
    if isinstance(shape, Polygon):
        return shape
    pieces = [
        piece for piece in getattr(shape, "geoms", ()) if isinstance(piece, (Polygon, MultiPolygon))
    ]
    best = Polygon()
    for piece in pieces:
        candidate = largest_polygon(piece)
        if candidate.area > best.area:
            best = candidate
    return best


def writing_room(shape: Polygon) -> Polygon:
    """Return an upright box inside a shape, where a word has about the most room.

    It is measured at so many lines across; between two of them a bay of the shape is overlooked.
    """
    x0, y0, x1, y1 = shape.bounds
    cuts: list[tuple[float, float, float]] = []
    for n in range(1, _LINES_ACROSS):
        x = x0 + (x1 - x0) * n / _LINES_ACROSS
        there = shape.intersection(LineString([(x, y0 - 1.0), (x, y1 + 1.0)]))
        pieces = [one.bounds for one in getattr(there, "geoms", (there,)) if one.length > 0]
        low, high = max(((b[1], b[3]) for b in pieces), key=lambda s: s[1] - s[0], default=(y1, y0))
        cuts.append((x, low, high))
    best, room = 0.0, box(x0, y0, x1, y1)
    for i, j in combinations(range(len(cuts)), 2):
        low, high = max(c[1] for c in cuts[i : j + 1]), min(c[2] for c in cuts[i : j + 1])
        fits = min((cuts[j][0] - cuts[i][0]) / _WORD_ASPECT, high - low)
        if fits > best:
            best, room = fits, box(cuts[i][0], low, cuts[j][0], high)
    return room


def polygon_of(points: Sequence[Sequence[float]] | NDArray[np.float64]) -> Polygon:
    """Return a valid polygon through the points; what crosses itself keeps its largest part."""
    if len(points) < 3:
        return Polygon()
    # An array at once: point by point it was most of what reading a board's file took.
    shape = Polygon(np.asarray(points, dtype=np.float64))
    return shape if shape.is_valid else largest_polygon(make_valid(shape))


def points_of(shape: Polygon) -> list[list[float]]:
    """Return the outer ring without its doubled last point, rounded to 0.01."""
    if shape.is_empty:
        return []
    return [[round(x, 2), round(y, 2)] for x, y in list(shape.exterior.coords)[:-1]]


def iou(a: BaseGeometry, b: BaseGeometry) -> float:
    """Return intersection over union; 0 where both are empty."""
    union = a.union(b).area
    return float(a.intersection(b).area / union) if union > 0 else 0.0


def union_of(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """Return the union; an empty polygon for no shapes."""
    return unary_union(list(shapes)) if shapes else Polygon()


def mirrored(shape: Polygon, turned: str, length_mm: float, width_mm: float) -> Polygon:
    """Return a shape of face 2's own view as seen through the board (see ``frames``)."""
    if turned == "sideways":
        return affinity.affine_transform(shape, [1, 0, 0, -1, 0, width_mm])
    return affinity.affine_transform(shape, [-1, 0, 0, 1, length_mm, 0])
