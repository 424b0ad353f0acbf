"""Repeatable noise: periodic tables to look up, and sums of plane waves."""

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfftn, rfftn

from tests.render.kept import kept

F32 = NDArray[np.float32]
_ROW = 512  # points are looked up in rows of this many, because remap wants pictures


_TABLES = 4


@lru_cache(maxsize=_TABLES)
def tile_2d(which: int) -> F32:
    """Return a periodic (1024, 1024) table of smooth noise, mean 0, sd 1."""
    return kept("noise", which, _draw_tile)


def _draw_tile(which: int, side: int = 1024, sigma: float = 2.0) -> F32:
    white = np.random.default_rng((which, side)).standard_normal((side, side), dtype=np.float32)
    edge = int(4 * sigma)
    padded = cv2.GaussianBlur(np.pad(white, edge, mode="wrap"), (0, 0), sigma)
    smooth = padded[edge:-edge, edge:-edge]
    return np.ascontiguousarray((smooth - smooth.mean()) / smooth.std(), dtype=np.float32)


@lru_cache(maxsize=_TABLES)
def _fine_tile(which: int) -> F32:
    """Return a periodic table of the same kind with four times as many cells to a spot."""
    return kept("noise-fine", which, _draw_fine_tile, _draw_tile)


def _draw_fine_tile(which: int) -> F32:
    edge = 8
    padded = np.pad(_draw_tile(which, 512), edge, mode="wrap")
    large = cv2.resize(padded, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(large[4 * edge : -4 * edge, 4 * edge : -4 * edge])


@lru_cache(maxsize=_TABLES)
def atlas_3d(which: int) -> F32:
    """Return periodic noise over a cube, its slices (with one wrapped row and column) stacked."""
    return kept("noise-cube", which, _draw_atlas)


def _draw_atlas(which: int, side: int = 80, sigma: float = 0.6) -> F32:
    white = np.random.default_rng((which, side, 3)).standard_normal((side, side, side))
    fall = np.exp(-2 * (np.pi * sigma * np.fft.fftfreq(side)) ** 2)
    smooth = rfftn(white)
    smooth *= (fall[:, None, None] * fall[:, None]) * fall[: side // 2 + 1]
    smooth = irfftn(smooth, s=white.shape)
    smooth = ((smooth - smooth.mean()) / smooth.std()).astype(np.float32)
    padded = np.pad(smooth, ((0, 0), (0, 1), (0, 1)), mode="wrap")
    return np.ascontiguousarray(padded.reshape(-1, side + 1))


def lookup(table: F32, columns: F32, rows: F32) -> F32:
    """Return a table's values at points of any shape, straight between its cells."""
    shape = columns.shape
    count = columns.size
    full = -(-count // _ROW) * _ROW
    where = np.zeros((2, full), dtype=np.float32)
    where[0, :count] = columns.ravel()
    where[1, :count] = rows.ravel()
    found = cv2.remap(
        table,
        where[0].reshape(-1, _ROW),
        where[1].reshape(-1, _ROW),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )
    return found.reshape(full, *table.shape[2:])[:count].reshape(*shape, *table.shape[2:])


def wrapped(values: F32, period: float) -> F32:
    """Return values brought into [0, period)."""
    whole = np.floor(values * np.float32(1 / period))
    whole *= np.float32(period)
    return np.subtract(values, whole, out=whole)


def noise_2d(seed: int, x: F32, y: F32, size_mm: float, turn: float = 0.0) -> F32:
    """Return smooth noise (sd 1) whose spots are about ``size_mm`` across."""
    # Few tables, many places in them: a seed picks both. remap knows 32 places between two
    # cells, which shows in large spots, so these come from a finer table.
    if size_mm < 20:
        table, cells = tile_2d(seed % _TABLES), 5.0
    else:
        table, cells = _fine_tile(seed % _TABLES), 20.0
    scale = cells / size_mm  # spots of the table are this many cells across
    c, s = np.float32(np.cos(turn) * scale), np.float32(np.sin(turn) * scale)
    side = table.shape[0]
    du, dv = np.float32(seed * 0.6180339 % 1 * side), np.float32(seed * 0.7548777 % 1 * side)
    return lookup(table, wrapped(x * c - y * s + du, side), wrapped(x * s + y * c + dv, side))


@lru_cache(maxsize=1)
def _tiles_2d() -> F32:
    """Return the four periodic tables as one picture (1024, 1024, 4), for one look-up."""
    return kept("noise-four", _TABLES, _draw_tiles, _draw_tile)


def _draw_tiles(count: int) -> F32:
    return np.stack([tile_2d(k) for k in range(count)], axis=-1)


def noises_2d(seed: int, x: F32, y: F32, size_mm: float, turn: float = 0.0) -> F32:
    """Return four unlike fields of smooth noise (N, 4), sd 1, for little more than one costs."""
    tables = _tiles_2d()
    side, scale = tables.shape[0], 5.0 / size_mm
    c, s = np.float32(np.cos(turn) * scale), np.float32(np.sin(turn) * scale)
    du, dv = np.float32(seed * 0.6180339 % 1 * side), np.float32(seed * 0.7548777 % 1 * side)
    return lookup(tables, wrapped(x * c - y * s + du, side), wrapped(x * s + y * c + dv, side))


def noise_3d(seed: int, x: F32, y: F32, z: F32, cell: tuple[float, float, float]) -> F32:
    """Return noise (sd 1) in space, its cells ``cell`` mm long along x, y, z."""
    atlas = atlas_3d(seed % _TABLES)
    side = atlas.shape[1] - 1
    # A slant keeps the period from lining up with the board's own axes.
    column = wrapped(x * np.float32(1 / cell[0]) + y * np.float32(0.13 / cell[1]), side)
    row = wrapped(y * np.float32(1 / cell[1]) + z * np.float32(0.31 / cell[2]), side)
    deep = wrapped(z * np.float32(1 / cell[2]) + np.float32(seed * 0.6180339 % 1 * side), side)
    below = np.floor(deep)
    part = deep - below
    below = np.minimum(below, side - 1)
    above = np.where(below >= side - 1, 0, below + 1).astype(np.float32)
    step = np.float32(side + 1)
    first = lookup(atlas, column, row + below * step)
    second = lookup(atlas, column, row + above * step)
    return first + (second - first) * part


class Waves:
    """A smooth field in space: a sum of plane waves, sd about 1, exact everywhere."""

    def __init__(
        self, seed: int, lengths_mm: tuple[float, float, float], count: int = 7, spread: float = 0.6
    ) -> None:
        rng = np.random.default_rng((seed, 77))
        stretch = np.exp(rng.uniform(-spread, spread, (count, 1)))
        turn = rng.standard_normal((count, 3))
        turn /= np.linalg.norm(turn, axis=1, keepdims=True)
        self._k = (2 * np.pi * turn * stretch / np.asarray(lengths_mm)).astype(np.float32)
        self._phase = rng.uniform(0, 2 * np.pi, count).astype(np.float32)
        self._gain = np.float32(np.sqrt(2 / count))

    def at(self, x: F32, y: F32 | float, z: F32 | float) -> F32:
        """Return the field at points (mm)."""
        total = np.zeros(np.shape(x), dtype=np.float32)
        for (kx, ky, kz), phase in zip(self._k, self._phase, strict=True):
            turn = kx * x
            turn += ky * y
            turn += kz * z + phase
            total += np.sin(turn, out=turn)
        return total * self._gain


def smoothstep(low: float, high: float, values: F32) -> F32:
    """Return 0 below ``low``, 1 above ``high``, smooth between."""
    t = np.clip((values - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def tinted(colour: F32, share: F32) -> F32:
    """Return colours (N, 3) times a share (N,) each.

    Channel by channel: numpy takes two to five times as long to stretch the shares to three.
    """
    out = np.empty(colour.shape, dtype=np.result_type(colour, share))
    for k in range(3):
        np.multiply(colour[:, k], share, out=out[:, k])
    return out


def blended(colour: F32, ink: F32, share: F32) -> F32:
    """Return colours (N, 3) moved by a share (N,) each towards one ink (3,)."""
    out = np.empty(colour.shape, dtype=np.result_type(colour, ink, share))
    for k in range(3):
        here = colour[:, k]
        np.add(here, (ink[k] - here) * share, out=out[:, k])
    return out


def dim(colour: F32, share: F32) -> None:
    """Multiply colours (N, 3) by a share (N,) each, in place."""
    for k in range(3):
        colour[:, k] *= share


def ink_over(colour: F32, ink: F32, share: F32) -> None:
    """Move colours (N, 3) by a share (N,) each towards one ink (3,), in place."""
    for k in range(3):
        here = colour[:, k]
        here += (ink[k] - here) * share


def spread(share: F32, ink: F32) -> F32:
    """Return one ink (3,) times a share (N,) each, (N, 3)."""
    out = np.empty((len(share), 3), dtype=np.result_type(share, ink))
    for k in range(3):
        np.multiply(share, ink[k], out=out[:, k])
    return out
