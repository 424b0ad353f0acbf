"""Boards and parts as whole-number arrays: tenths of a millimetre, rounded to the safe side."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.placement import kernels_ground
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import refusal_of, zones_of
from scanner.placement.rules.flaws import ARRIS_RIM_MM, WANE_ALLOWED_MM
from scanner.placement.rules.ground import Where, Zone, frame_of, margin_mm
from scanner.placement.shop import Shop

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]

# Row heights to choose from, tenths of a millimetre: the one that the part widths waste least on.
ROW_HEIGHTS = (10, 8)
_KINDS = (Where.ALL, Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE, Where.RIM)


def tenths_up(mm: float) -> int:
    """Return tenths of a millimetre, rounded up: for parts and kerfs."""
    return math.ceil(mm * 10 - 1e-6)


def rough_size_mm(part: Part, shop: Shop) -> tuple[float, float]:
    """Return rough length and width: finished size and the part's own or the shop's allowance."""
    length = shop.length_allowance_mm
    width = shop.width_allowance_mm
    return (
        part.length_mm + (length if part.length_allowance_mm is None else part.length_allowance_mm),
        part.width_mm + (width if part.width_allowance_mm is None else part.width_allowance_mm),
    )


@dataclass(frozen=True, slots=True)
class Types:
    """The parts as arrays, one entry a row of the parts list.

    Attributes
    ----------
    length, width
        Rough size, tenths, rounded up, (T,).
    value
        Priority times finished area of one copy, mm2, (T,).
    wanted
        Copies asked for, (T,).
    deep, pitch
        Rows a part covers, and rows from one strip to the next (with the kerf), (T,).
    """

    parts: tuple[Part, ...]
    length: Ints
    width: Ints
    value: Floats
    wanted: Ints
    row: int
    deep: Ints
    pitch: NDArray[np.int64]
    kerf: int

    def __len__(self) -> int:
        return len(self.parts)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The clear ground of one board for every type.

    Attributes
    ----------
    pointer, runs, faces
        Clear intervals: those of type t and row j are runs[pointer[t, j]:pointer[t, j + 1]],
        start and end in tenths, sorted by start; ``faces`` holds the show face of each, 0 if none.
    x0, x1, y0
        Extent of the board, tenths; row j begins at y0 + j * row height.
    area
        Gross area, mm2: face 1's wood.
    """

    board: Board
    pointer: Ints
    runs: Ints
    faces: NDArray[np.int8]
    x0: int
    x1: int
    y0: int
    area: float


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """All that the search needs."""

    types: Types
    grounds: tuple[Ground, ...]
    shop: Shop


def types_of(parts: Sequence[Part], wanted: Sequence[int], shop: Shop) -> Types:
    """Return the parts as arrays; ``wanted`` copies of each."""
    sizes = [rough_size_mm(part, shop) for part in parts]
    width = np.array([tenths_up(size[1]) for size in sizes], np.int32)
    kerf = tenths_up(shop.kerf_mm)
    row = min(ROW_HEIGHTS, key=lambda h: (_waste_of_rows(width + kerf, h), -h))
    return Types(
        tuple(parts),
        np.array([tenths_up(size[0]) for size in sizes], np.int32),
        width,
        np.array([part.priority * part.length_mm * part.width_mm for part in parts], np.float64),
        np.array(wanted, np.int32),
        row,
        _rows_up(width, row),
        _rows_up(width + kerf, row).astype(np.int64),
        kerf,
    )


def _waste_of_rows(sizes: Ints, row: int) -> float:
    return float(np.sum(-sizes % row))


def _rows_up(sizes: Ints, row: int) -> Ints:
    return (-(-sizes // row)).astype(np.int32)


def problem_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    wanted: Sequence[int],
    shop: Shop,
    taken: dict[str, tuple[tuple[float, float], ...]] | None = None,
) -> Problem:
    """Return boards and parts as arrays.

    ``taken``: board id to stretches (x from, x to in mm) that are no longer to be had.
    """
    types = types_of(parts, wanted, shop)
    grounds = tuple(ground_of(b, types, shop, (taken or {}).get(b.id, ())) for b in boards)
    return Problem(types, grounds, shop)


def ground_of(
    board: Board, types: Types, shop: Shop, taken: tuple[tuple[float, float], ...] = ()
) -> Ground:
    """Return the clear ground of one board for every type."""
    left, low, right, high = frame_of(board)
    x0, x1 = math.floor(left * 10), math.ceil(right * 10)
    y0 = _first_row(board, low, types.row, shop)
    rows = max(1, math.ceil((high * 10 - y0) / types.row))
    tables: dict[object, tuple[Ints, Ints]] = {}

    def clear(part: Part, t: int, show_face: int | None) -> tuple[Ints, Ints]:
        need = (part.faces, part.max_knot_mm, part.sapwood, show_face)
        if need not in tables:
            zones = zones_of(board, part, shop, show_face)
            tables[need] = row_tables(zones, y0, types.row, rows, taken)
        found: tuple[Ints, Ints] = kernels_ground.clear_runs(
            *tables[need],
            part_windows(int(types.width[t]), types.row, int(types.deep[t])),
            int(types.deep[t]),
            x0,
            x1,
            int(types.length[t]),
        )
        return found

    nothing = (np.zeros(rows + 1, np.int32), np.zeros((0, 2), np.int32))
    pointers, runs, faces, n = [], [], [], 0
    for t, part in enumerate(types.parts):
        if refusal_of(board, part, shop) is not None:
            pointer, run = nothing
            face = np.zeros(0, np.int8)
        elif part.faces is Faces.SHOW:
            pointer, run, face = _either(clear(part, t, 1), clear(part, t, 2), rows)
        else:
            pointer, run = clear(part, t, None)
            face = np.zeros(len(run), np.int8)
        pointers.append(pointer + n)
        runs.append(run)
        faces.append(face)
        n += len(run)
    return Ground(
        board,
        np.array(pointers, np.int32).reshape(len(types), rows + 1),
        np.concatenate(runs) if runs else nothing[1],
        np.concatenate(faces) if faces else np.zeros(0, np.int8),
        x0,
        x1,
        y0,
        board.wood(1).area,
    )


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
