"""A fresh end and an edge of a rendered board, square on; and how its rings truly run."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32
from tests.render.shape import F64, Shape
from tests.render.specs import BoardSpec
from tests.render.stage import surfaces_of
from tests.render.surface import EDGE_HIGH, EDGE_LOW, END_A, END_B


def end_points(board: BoardSpec, end: str, trim_mm: float) -> tuple[float, float, float]:
    """Return x of a fresh crosscut and the smallest and largest y of the wood there, model mm."""
    shape = Shape(board)
    x = trim_mm if end == "A" else board.length_mm - trim_mm
    z = np.linspace(0, board.thickness_mm, 9)
    at = np.full(z.shape, x)
    return x, float(shape.edge(at, z, -1).min()), float(shape.edge(at, z, 1).max())


def render_end(
    board: BoardSpec, end: str, trim_mm: float, mm_per_px: float, supersample: int = 2
) -> tuple[F32, NDArray[np.bool_]]:
    """Return a fresh end as linear light (H, W, 3) and its wood, as seen from outside, face 1 up.

    Seen so, y of the model runs to the right at end A and to the left at end B. The picture's
    first pixel lies at the corner of the rectangle round the wood.
    """
    fresh = replace(board, coated_ends="", weather=0.0)
    x, low, high = end_points(board, end, trim_mm)
    n, t = supersample, board.thickness_mm
    columns, rows = round((high - low) / mm_per_px), round(t / mm_per_px)
    v, u = np.mgrid[0 : rows * n, 0 : columns * n].astype(np.float64)
    run = (u + 0.5) / n * mm_per_px
    y = (low + run if end == "A" else high - run).ravel()
    z = np.clip((v + 0.5) / n * mm_per_px, 0, t).ravel()
    points = [np.ascontiguousarray(p, dtype=np.float32) for p in (np.full(y.shape, x), y, z)]
    return _shaded(fresh, points, END_A if end == "A" else END_B, (rows, columns), mm_per_px, n)


def render_edge(
    board: BoardSpec, side: int, x0: float, x1: float, mm_per_px: float, supersample: int = 2
) -> tuple[F32, NDArray[np.bool_]]:
    """Return a stretch of an edge, jointed flat 3 mm in (linear light, wood), face 1 up.

    ``side`` -1 is the edge of smaller y. Seen from outside, x runs to the right on the edge of
    larger y, to the left on the other.
    """
    shape = Shape(board)
    n, t = supersample, board.thickness_mm
    columns, rows = round((x1 - x0) / mm_per_px), round(t / mm_per_px)
    v, u = np.mgrid[0 : rows * n, 0 : columns * n].astype(np.float64)
    run = (u + 0.5) / n * mm_per_px
    x = (x0 + run if side > 0 else x1 - run).ravel()
    z = np.clip((v + 0.5) / n * mm_per_px, 0, t).ravel()
    y = shape.edge(x, np.full(x.shape, t / 2), side) - 3.0 * side
    points = [np.ascontiguousarray(p, dtype=np.float32) for p in (x, y, z)]
    return _shaded(
        board, points, EDGE_LOW if side < 0 else EDGE_HIGH, (rows, columns), mm_per_px, n
    )


def _shaded(
    board: BoardSpec,
    points: list[F32],
    side: int,
    size: tuple[int, int],
    mm_per_px: float,
    n: int,
) -> tuple[F32, NDArray[np.bool_]]:
    out, _ = Shape(board).outside(*points)
    colour = np.full((len(out), 3), 0.03, dtype=np.float32)
    at = np.nonzero(out <= 0)[0]
    albedo, hx, hy = surfaces_of(board).shade(*(p[at] for p in points), side, mm_per_px / n)
    colour[at] = albedo * (1.0 - 0.5 * hx - 0.5 * hy)[:, None]
    rows, columns = size
    seen = colour.reshape(rows, n, columns, n, 3).mean(axis=(1, 3))
    wood = (out <= 0).reshape(rows, n, columns, n).mean(axis=(1, 3)) >= 0.5
    return seen, wood


def ring_normals(board: BoardSpec, x: float, y: F64, z: F64, step_mm: float = 0.5) -> F64:
    """Return the direction (N, 2), in y and z, in which the rings grow at points of a crosscut."""
    wood = surfaces_of(board).wood

    def radius(dy: float, dz: float) -> F64:
        at = (np.full(y.shape, x), y + dy, z + dz)
        return np.asarray(
            wood.ring_field(*(np.ascontiguousarray(p, dtype=np.float32) for p in at))[0], float
        )

    grown = np.column_stack(
        [radius(step_mm, 0) - radius(-step_mm, 0), radius(0, step_mm) - radius(0, -step_mm)]
    )
    return np.asarray(grown / np.maximum(np.linalg.norm(grown, axis=1, keepdims=True), 1e-9))


def line_slope(board: BoardSpec, side: int, x: F64, step_mm: float = 20.0) -> float:
    """Return the mean slope dz/dx of the ring lines on an edge jointed 3 mm in.

    Where rings cross the edge they draw lines on which the radius stays: the slope is the best
    one in the sense of least squares over places along the edge and through the thickness.
    """
    shape, wood = Shape(board), surfaces_of(board).wood
    deep = np.repeat(np.linspace(0.2, 0.8, 5) * board.thickness_mm, len(x))
    at = np.tile(x, 5)

    def radius(dx: float, dz: float) -> F64:
        here = at + dx
        y = shape.edge(here, np.full(here.shape, board.thickness_mm / 2), side) - 3.0 * side
        points = (np.ascontiguousarray(p, dtype=np.float32) for p in (here, y, deep + dz))
        return np.asarray(wood.ring_field(*points)[0], dtype=float)

    along = (radius(step_mm, 0) - radius(-step_mm, 0)) / (2 * step_mm)
    through = (radius(0, 1.0) - radius(0, -1.0)) / 2.0
    return float(-(along * through).sum() / max(float((through**2).sum()), 1e-9))
