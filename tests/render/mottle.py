"""What changes slowly over a floor, worked out once on a coarse grid and then looked up."""

from collections.abc import Callable

import numpy as np

from tests.render.noise import F32, lookup

_MM = 16.0  # a cell; fields drawn on it are 70 mm across or more
_LOW, _HIGH = np.array([-2600.0, -3600.0]), np.array([5400.0, 3800.0])


class Mottle:
    """Up to four slow fields over the floor's plane."""

    def __init__(self, fields: Callable[[F32, F32], F32]) -> None:
        """``fields`` takes x, y (N,) and returns (N, channels)."""
        wide, high = np.ceil((_HIGH - _LOW) / _MM).astype(int)
        y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
        x, y = _LOW[0] + x * np.float32(_MM), _LOW[1] + y * np.float32(_MM)
        drawn = fields(x.ravel().astype(np.float32), y.ravel().astype(np.float32))
        self._table = np.ascontiguousarray(drawn.reshape(high, wide, -1), dtype=np.float32)

    def at(self, x: F32, y: F32) -> F32:
        """Return the fields at points, (N, channels); past the grid its border goes on."""
        high, wide = self._table.shape[:2]
        column = np.clip((x - np.float32(_LOW[0])) / np.float32(_MM), 0, wide - 1.001)
        row = np.clip((y - np.float32(_LOW[1])) / np.float32(_MM), 0, high - 1.001)
        return lookup(self._table, column.astype(np.float32), row.astype(np.float32))


def octaves(noise: Callable[[int, float], F32], sizes: tuple[float, ...], power: float) -> F32:
    """Return a sum of noise, each size as strong as ``power`` to its step: a floor's spectrum."""
    total = noise(0, sizes[0])
    for k, size in enumerate(sizes[1:], 1):
        total = total + power**k * noise(k, size)
    return total / np.float32(np.sqrt(sum(power ** (2 * k) for k in range(len(sizes)))))
