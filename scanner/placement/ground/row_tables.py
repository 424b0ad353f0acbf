"""What zones forbid, row by row: blocked intervals of a board, and the rows a part covers."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.rules.flaws import ARRIS_RIM_MM, WANE_ALLOWED_MM
from scanner.placement.rules.ground import Where, Zone
from scanner.placement.wanted.items import Floats, Ints

# Room for the blocked intervals of one row; where it runs out the last one swallows the rest.
_MOST_IN_A_ROW = 48
_KINDS = (Where.ALL, Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE, Where.RIM)
# Wane that just touches the rows that must be free of it is taken to reach into them: rows of a
# fifth of a millimetre often end exactly where wane does.
_TOUCHES = (Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE)
_HAIR_MM = 0.01


def part_windows(width: int, row: int, deep: int) -> NDArray[np.int64]:
    """Return for each kind of zone the rows of the part it forbids (a row too many, never less)."""
    wane, rim = round(WANE_ALLOWED_MM * 10), round(ARRIS_RIM_MM * 10)
    return np.array(
        [
            [0, 0, deep],
            [1, wane // row, deep],
            [2, 0, -(-max(width - wane, 0) // row)],
            [3, 0, min(deep, -(-rim // row))],
            [3, max(0, (width - rim) // row), deep],
        ],
        np.int64,
    )


def row_tables(
    zones: tuple[Zone, ...],
    y0: int,
    row: int,
    rows: int,
    taken: tuple[tuple[float, float], ...],
    hair_mm: float = _HAIR_MM,
) -> tuple[Ints, Ints]:
    """Return the blocked intervals of windows of 2^n rows, for each kind of zone.

    hair_mm: by how much wane is drawn out; 0 where no zone may be larger than it is.
    """
    shapes: dict[Where, list[BaseGeometry]] = {kind: [] for kind in _KINDS}
    for zone in zones:
        touches = hair_mm > 0 and zone.where in _TOUCHES
        shapes[zone.where].append(zone.ground.buffer(hair_mm) if touches else zone.ground)
    for x_from, x_to in taken:
        high = (y0 + rows * row) / 10 + 1
        corners = ((x_from, y0 / 10 - 1), (x_to, y0 / 10 - 1), (x_to, high), (x_from, high))
        shapes[Where.ALL].append(Polygon(corners))
    edges, polygon, kind = _edges([shapes[kind] for kind in _KINDS])
    found: tuple[Ints, Ints] = kernels_ground.blocked_windows(
        edges, polygon, kind, y0, row, rows, _MOST_IN_A_ROW
    )
    return found


def _edges(
    kinds: Sequence[Sequence[BaseGeometry]],
) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Return all edges in tenths, (N, 4), the first edge of each polygon, (P + 1,), and of kinds.

    The last is the first polygon of each kind, (K + 1,).
    """
    every = np.array([shape for shapes in kinds for shape in shapes], object)
    parts, of_shape = shapely.get_parts(every, return_index=True)
    rings, of_part = shapely.get_rings(parts, return_index=True)
    points, of_ring = shapely.get_coordinates(rings, return_index=True)
    # Points that follow each other in one ring are an edge.
    is_edge = of_ring[1:] == of_ring[:-1]
    edges = np.concatenate((points[:-1], points[1:]), axis=1)[is_edge] * 10
    polygon = np.searchsorted(of_part[of_ring[:-1][is_edge]], np.arange(len(parts) + 1))
    first_shape = np.cumsum([0, *(len(shapes) for shapes in kinds)])
    return edges, polygon, np.searchsorted(of_shape, first_shape)
