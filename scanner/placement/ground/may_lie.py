"""Where a part may lie on a board, and what forbids it elsewhere: for a part moved by hand.

The search asks for rows and intervals (`clear_ground`); a hand asks for one place anywhere. A part
of given size lies on forbidden ground exactly where its corner lies in that ground widened by the
part itself (the Minkowski sum of ground and mirrored part; Lozano-Perez, 1983).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, unary_union

from scanner.board.board import Board
from scanner.placement.ground.known_zones import known_zones
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.rules import refusal_of
from scanner.placement.rules.flaws import ARRIS_RIM_MM, WANE_ALLOWED_MM
from scanner.placement.rules.ground import Where, Zone, frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.turned import turned_shape

# Kept from every limit on top, so that rounding never carries a part over it.
_HAIR_MM = 0.05
# A corner that may not move a hair in some direction is no place.
_SMALLEST_MM2 = 0.01

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Forbidden:
    """Where the corner of a part may not be, and the name of what forbids it."""

    name: str
    corners: BaseGeometry


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """All that a board says of one part shown on one face.

    Attributes
    ----------
    refusal
        Why the whole board is ruled out, or None.
    angle_deg
        By how much the part is turned about that corner, from x towards y.
    clear
        Where the part's corner of smallest x and y (before turning) may be, board frame, mm.
    forbidden
        What forbids the rest.
    """

    board: Board
    size_mm: tuple[float, float]
    show_face: int | None
    refusal: str | None
    clear: BaseGeometry
    forbidden: tuple[Forbidden, ...]
    angle_deg: float = 0.0

    @property
    def blank_mm(self) -> tuple[float, float, float, float]:
        """Bounds of the upright blank round the part, its corner at (0, 0)."""
        length, width = self.size_mm
        shape = turned_shape(Placement("", 1, "", 0.0, 0.0, length, width, self.angle_deg))
        x0, y0, x1, y1 = shape.bounds
        return x0, y0, x1, y1

    def in_the_way(self, x_mm: float, y_mm: float) -> tuple[str, ...]:
        """Return the names of what forbids this corner, each once; flaws before the edge."""
        at = Point(x_mm, y_mm)
        names = [one.name for one in self.forbidden if one.corners.intersects(at)]
        return tuple(dict.fromkeys(names))


def room_of(
    board: Board,
    part: Part,
    size_mm: tuple[float, float],
    shop: Shop,
    show_face: int | None,
    angle_deg: float = 0.0,
) -> Room:
    """Return where a part of this rough size may lie on a board, other parts left aside.

    ``show_face`` is None for a part that asks for no show face; ``angle_deg`` is by how much it is
    turned with the grain.
    """
    refusal = refusal_of(board, part, shop)
    room = Room(board, size_mm, show_face, refusal, Polygon(), (), angle_deg)
    if refusal is not None:
        return room
    length, width = size_mm
    found: dict[str, list[BaseGeometry]] = {}
    # Turned back with its ground, a turned part lies straight.
    zones = [
        replace(zone, ground=_turned(zone.ground, -angle_deg))
        for zone in known_zones(board, part, shop, show_face)
    ]
    for zone in zones:
        found.setdefault(zone.name, []).extend(corners_on(zone, length, width))
    twice = both_edges(zones, length, width)
    if not twice.is_empty:
        found["wane on both long edges"] = [twice]
    forbidden = tuple(
        Forbidden(name, _turned(unary_union(shapes), angle_deg)) for name, shapes in found.items()
    )
    x0, y0, x1, y1 = frame_of(board)
    left, low, right, high = room.blank_mm
    inside = box(x0 - left, y0 - low, max(x1 - right, x0 - left), max(y1 - high, y0 - low))
    clear = inside.difference(unary_union([one.corners for one in forbidden]))
    return replace(room, clear=_by_a_hair(clear), forbidden=forbidden)


def corners_on(zone: Zone, length_mm: float, width_mm: float) -> Iterator[BaseGeometry]:
    """Yield the corners at which an upright part would lie on the ground of a zone."""
    for low, high in _rows(zone.where, width_mm):
        yield _widened(zone.ground, length_mm, (low, high))


def both_edges(zones: Iterable[Zone], length_mm: float, width_mm: float) -> BaseGeometry:
    """Return the corners at which an upright part would carry wane on both long edges."""
    sides: dict[Where, list[BaseGeometry]] = {Where.NOT_LOW_EDGE: [], Where.NOT_HIGH_EDGE: []}
    for zone in zones:
        if zone.where in sides:
            sides[zone.where].append(_widened(zone.ground, length_mm, (0.0, width_mm)))
    one, other = (unary_union(shapes) for shapes in sides.values())
    return one.intersection(other)


def _turned(shape: BaseGeometry, angle_deg: float) -> BaseGeometry:
    return affinity.rotate(shape, angle_deg, origin=(0.0, 0.0)) if angle_deg else shape


def beside_others(room: Room, others: Iterable[Placement], kerf_mm: float) -> BaseGeometry:
    """Return the clear corners that also keep a kerf from these parts of the same board."""
    taken = [
        corners_beside(room.blank_mm, other, kerf_mm)
        for other in others
        if other.board == room.board.id
    ]
    return _by_a_hair(room.clear.difference(unary_union(taken))) if taken else room.clear


def corners_beside(
    blank_mm: tuple[float, float, float, float], other: Placement, kerf_mm: float
) -> BaseGeometry:
    """Return the corners of a part whose blank would overlap another or leave less than a kerf."""
    left, low, right, high = blank_mm
    return box(
        other.x_mm - right - kerf_mm,
        other.y_mm - high - kerf_mm,
        other.x_mm + other.length_mm - left + kerf_mm,
        other.y_mm + other.width_mm - low + kerf_mm,
    )


def nearest_corner(
    clear: BaseGeometry, x_mm: float, y_mm: float, reach_mm: float
) -> tuple[float, float] | None:
    """Return the clear corner nearest to a wished one, None where none is within reach."""
    wished = Point(x_mm, y_mm)
    if clear.is_empty or clear.distance(wished) > reach_mm:
        return None
    found = nearest_points(clear, wished)[0]
    return float(found.x), float(found.y)


def _rows(where: Where, width: float) -> tuple[Span, ...]:
    """Return which stretches across the part a zone may not touch."""
    match where:
        case Where.ALL:
            return ((0.0, width),)
        case Where.NOT_LOW_EDGE:
            return ((min(WANE_ALLOWED_MM, width), width),)
        case Where.NOT_HIGH_EDGE:
            return ((0.0, max(width - WANE_ALLOWED_MM, 0.0)),)
        case Where.RIM:
            rim = min(ARRIS_RIM_MM, width)
            return ((0.0, rim), (width - rim, width))


def _widened(ground: BaseGeometry, length: float, across: Span) -> BaseGeometry:
    """Return the corners at which a part's stretch touches the ground."""
    low, high = across
    shapes: list[BaseGeometry] = []
    for polygon in getattr(ground, "geoms", [ground]):
        if not isinstance(polygon, Polygon) or polygon.is_empty:
            continue
        shapes.append(shapely.transform(polygon, lambda at: at - (length, high)))
        for ring in (polygon.exterior, *polygon.interiors):
            shapes.extend(_swept(np.asarray(ring.coords)[:, :2], length, low, high))
    return unary_union(shapes)


def _swept(ring: NDArray[np.float64], length: float, low: float, high: float) -> list[BaseGeometry]:
    """Return what a part's stretch sweeps along each edge of a ring: convex, six corners at most.

    Parameters
    ----------
    ring
        (N, 2), mm, closed.
    """
    corners = np.array([(0, -low), (-length, -low), (-length, -high), (0, -high)])
    both = np.array([[a + corners, b + corners] for a, b in pairwise(ring)]).reshape(-1, 8, 2)
    return list(shapely.convex_hull(shapely.multipoints(both)))


def _by_a_hair(shape: BaseGeometry) -> BaseGeometry:
    inner = shape.buffer(-_HAIR_MM, join_style="mitre")
    pieces = [piece for piece in getattr(inner, "geoms", [inner]) if piece.area > _SMALLEST_MM2]
    return unary_union(pieces)
