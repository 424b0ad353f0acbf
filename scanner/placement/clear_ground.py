"""The clear ground of a board for every part and matched set, as intervals of rows."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.placement.items import Floats, Ints, Types, tenths_up
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import refusal_of, zones_of
from scanner.placement.rules.flaws import ARRIS_RIM_MM, WANE_ALLOWED_MM
from scanner.placement.rules.ground import Where, Zone, frame_of, margin_mm
from scanner.placement.sets import (
    Arrangement,
    MatchedSet,
    Member,
    Size,
    arrangements,
    is_one_strip,
    outer_size,
)
from scanner.placement.shop import Shop

# Board id to stretches along it, x from and to in mm, that are no longer to be had.
Stretches = Mapping[str, tuple[tuple[float, float], ...]]
_KINDS = (Where.ALL, Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE, Where.RIM)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The clear ground of one board for every type.

    Attributes
    ----------
    pointer, runs, faces
        Clear intervals: those of type t and row j are runs[pointer[t, j]:pointer[t, j + 1]],
        start and end in tenths, sorted by start; ``faces`` holds the show face of each, 0 if none.
    length, width, deep, pitch
        Rough size of each type on this board: tenths along and across, rows it covers, and rows
        from one strip to the next (with the kerf), (T,).
    fills
        Whether gaps beside a type in its strip may be filled, (T,): not beside a set of several
        strips.
    arrangements
        How each set lies on this board; empty where it does not fit.
    x0, x1, y0
        Extent of the board, tenths; row j begins at y0 + j * row height.
    area
        Gross area, mm2: face 1's wood.
    """

    board: Board
    pointer: Ints
    runs: Ints
    faces: NDArray[np.int8]
    length: Ints
    width: Ints
    deep: Ints
    pitch: NDArray[np.int64]
    fills: NDArray[np.bool_]
    arrangements: tuple[Arrangement, ...]
    x0: int
    x1: int
    y0: int
    area: float


def ground_of(
    board: Board, types: Types, shop: Shop, taken: tuple[tuple[float, float], ...] = ()
) -> Ground:
    """Return the clear ground of one board for every type."""
    clear = Clear(board, types, shop, taken)
    found = [clear.of_part(part) for part in types.parts]
    size = [types.sizes[part.name] for part in types.parts]
    fills = [True] * len(types.parts)
    laid = []
    for one in types.sets:
        arrangement, runs = _lay_set(clear, one, types, shop)
        laid.append(arrangement)
        found.append(runs)
        size.append(outer_size(arrangement) if arrangement else Size(1, 1, 1, 1))
        fills.append(is_one_strip(arrangement))
    starts = np.cumsum([0, *(len(runs) for _, runs, _ in found)])
    return Ground(
        board,
        np.array([p + n for (p, _, _), n in zip(found, starts, strict=False)], np.int32).reshape(
            len(types), clear.rows + 1
        ),
        np.concatenate([np.zeros((0, 2), np.int32), *(runs for _, runs, _ in found)]),
        np.concatenate([np.zeros(0, np.int8), *(face for _, _, face in found)]),
        np.array([s.length for s in size], np.int32),
        np.array([s.width for s in size], np.int32),
        np.array([s.deep for s in size], np.int32),
        np.array([s.pitch for s in size], np.int64),
        np.array(fills, np.bool_),
        tuple(laid),
        clear.x0,
        clear.x1,
        clear.y0,
        board.wood(1).area,
    )


Runs = tuple[Ints, Ints, NDArray[np.int8]]


class Clear:
    """Finds the clear intervals of parts and sets on one board; remembers the blocked rows."""

    def __init__(
        self, board: Board, types: Types, shop: Shop, taken: tuple[tuple[float, float], ...] = ()
    ) -> None:
        left, low, right, high = frame_of(board)
        self.board, self.types, self.shop, self.taken = board, types, shop, taken
        self.x0, self.x1 = math.floor(left * 10), math.ceil(right * 10)
        self.y0 = _first_row(board, low, types.row, shop)
        self.rows = max(1, math.ceil((high * 10 - self.y0) / types.row))
        self._tables: dict[object, tuple[Ints, Ints]] = {}

    def of_part(self, part: Part) -> Runs:
        """Return pointer, intervals and show faces of one part."""
        if refusal_of(self.board, part, self.shop) is not None:
            return self._nothing()
        if part.faces is Faces.SHOW:
            return _either(self._runs(part, 1), self._runs(part, 2), self.rows)
        pointer, runs = self._runs(part, None)
        return pointer, runs, np.zeros(len(runs), np.int8)

    def of_arrangement(self, arrangement: Arrangement) -> Runs:
        """Return the same of a whole set; its members that show a face all show the same one."""
        refused = any(refusal_of(self.board, m.part, self.shop) is not None for m in arrangement)
        if not arrangement or refused:
            return self._nothing()
        if any(m.part.faces is Faces.SHOW for m in arrangement):
            return _either(self._of_all(arrangement, 1), self._of_all(arrangement, 2), self.rows)
        pointer, runs = self._of_all(arrangement, None)
        return pointer, runs, np.zeros(len(runs), np.int8)

    def _nothing(self) -> Runs:
        return np.zeros(self.rows + 1, np.int32), np.zeros((0, 2), np.int32), np.zeros(0, np.int8)

    def _runs(self, part: Part, show_face: int | None) -> tuple[Ints, Ints]:
        size, row = self.types.sizes[part.name], self.types.row
        need = (part.faces, part.max_knot_mm, part.sapwood, part.straight_grain, show_face)
        if need not in self._tables:
            zones = zones_of(self.board, part, self.shop, show_face)
            self._tables[need] = row_tables(zones, self.y0, row, self.rows, self.taken)
        windows = part_windows(size.width, row, size.deep)
        found: tuple[Ints, Ints] = kernels_ground.clear_runs(
            *self._tables[need], windows, size.deep, self.x0, self.x1, size.length
        )
        return found

    def _of_all(self, arrangement: Arrangement, show_face: int | None) -> tuple[Ints, Ints]:
        """Intersect where each member lets the whole set start."""
        pointer, starts = self._starts(arrangement[0], show_face)
        for member in arrangement[1:]:
            pointer, starts = kernels_ground.common_starts(
                pointer, starts, *self._starts(member, show_face), member.x, member.row
            )
        starts[:, 1] += outer_size(arrangement).length
        return pointer, starts

    def _starts(self, member: Member, show_face: int | None) -> tuple[Ints, Ints]:
        face = show_face if member.part.faces is Faces.SHOW else None
        pointer, runs = self._runs(member.part, face)
        starts = runs.copy()
        starts[:, 1] -= member.size.length
        return pointer, starts


def _lay_set(clear: Clear, one: MatchedSet, types: Types, shop: Shop) -> tuple[Arrangement, Runs]:
    """Return how a set lies on a board, the best liked way that fits, and where it may."""
    runs: Runs = clear.of_arrangement(())
    for arrangement in arrangements(one, types.sizes, types.kerf, shop.cut_class == "three_stage"):
        runs = clear.of_arrangement(arrangement)
        if len(runs[1]):
            return arrangement, runs
    return (), runs


def _first_row(board: Board, low: float, row: int, shop: Shop) -> int:
    """Return where the first row begins, tenths.

    A row begins where the flat faces' clear wood begins, so that nothing is lost there on a
    straight board; the rows below it are for hidden parts that reach into wane.
    """
    outline = max(face.outline.bounds[1] for face in board.faces.values())
    clear = tenths_up(outline + margin_mm(board.outline_u_mm, 0.0, 0.0, shop))
    return clear - math.ceil(max(0.0, clear - low * 10 - 0.5) / row) * row


def _either(
    first: tuple[Ints, Ints], second: tuple[Ints, Ints], rows: int
) -> tuple[Ints, Ints, NDArray[np.int8]]:
    """Return the intervals of both show faces together, by row and start."""
    row = np.concatenate([np.repeat(np.arange(rows), np.diff(p)) for p, _ in (first, second)])
    runs = np.concatenate((first[1], second[1]))
    face = np.concatenate((np.full(len(first[1]), 1, np.int8), np.full(len(second[1]), 2, np.int8)))
    order = np.lexsort((face, runs[:, 0], row))
    pointer = np.concatenate(([0], np.cumsum(np.bincount(row, minlength=rows)))).astype(np.int32)
    return pointer, np.ascontiguousarray(runs[order]), face[order]


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
    zones: tuple[Zone, ...], y0: int, row: int, rows: int, taken: tuple[tuple[float, float], ...]
) -> tuple[Ints, Ints]:
    """Return the blocked intervals of windows of 2^n rows, for each kind of zone."""
    shapes: dict[Where, list[BaseGeometry]] = {kind: [] for kind in _KINDS}
    for zone in zones:
        shapes[zone.where].append(zone.ground)
    for x_from, x_to in taken:
        high = (y0 + rows * row) / 10 + 1
        corners = ((x_from, y0 / 10 - 1), (x_to, y0 / 10 - 1), (x_to, high), (x_from, high))
        shapes[Where.ALL].append(Polygon(corners))
    most = 48
    pairs = []
    for kind in _KINDS:
        edges, polygon = _edges(shapes[kind])
        blocked, count = kernels_ground.blocked_rows(edges, polygon, y0, row, rows, most)
        pairs.append(kernels_ground.doubled(blocked, count))
    return np.array([pair[0] for pair in pairs]), np.array([pair[1] for pair in pairs])


def _edges(shapes: Sequence[BaseGeometry]) -> tuple[Floats, NDArray[np.int64]]:
    """Return all edges in tenths, (N, 4), and the first edge of each polygon, (P + 1,)."""
    edges: list[tuple[float, float, float, float]] = []
    first = [0]
    for shape in shapes:
        for polygon in getattr(shape, "geoms", [shape]):
            if not isinstance(polygon, Polygon) or polygon.is_empty:
                continue
            for ring in (polygon.exterior, *polygon.interiors):
                edges += [(*a[:2], *b[:2]) for a, b in pairwise(ring.coords)]
            first.append(len(edges))
    return np.array(edges, np.float64).reshape(-1, 4) * 10, np.array(first, np.int64)
