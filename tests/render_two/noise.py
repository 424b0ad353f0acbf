"""Smooth random fields, and tables read at scattered points."""

import cv2
import numpy as np

_ROW = 1024


def cloud(rng, shape, cell):
    """Return a smooth field (rows, columns) of mean 0 and spread 1; ``cell``: (rows, columns)."""
    rows = int(shape[0] / cell[0]) + 4
    columns = int(shape[1] / cell[1]) + 4
    seeds = rng.standard_normal((rows, columns), dtype=np.float32)
    size = (max(int(columns * cell[1]), shape[1] + 2), max(int(rows * cell[0]), shape[0] + 2))
    field = cv2.resize(seeds, size, interpolation=cv2.INTER_CUBIC)
    top = int(rng.integers(0, size[1] - shape[0] + 1))
    left = int(rng.integers(0, size[0] - shape[1] + 1))
    field = field[top : top + shape[0], left : left + shape[1]]
    return (field - field.mean()) / (field.std() + 1e-6)


def wander(rng, count, cell):
    """Return a smooth random line of ``count`` values, mean 0 and spread about 1."""
    knots = rng.standard_normal(int(count / cell) + 4)
    at = np.linspace(0, len(knots) - 1.001, count)
    low = at.astype(int)
    t = at - low
    t = t * t * (3 - 2 * t)
    return knots[low] * (1 - t) + knots[np.minimum(low + 1, len(knots) - 1)] * t


def read(table, column, row, border=cv2.BORDER_REPLICATE):
    """Return a table's values between its cells at flat arrays of columns and rows."""
    count = column.size
    if not count:
        return np.zeros((0, *table.shape[2:]), table.dtype)
    tall = -(-count // _ROW)
    maps = []
    for values in (column, row):
        padded = np.zeros(tall * _ROW, np.float32)
        padded[:count] = np.ravel(values)
        maps.append(padded.reshape(tall, _ROW))
    found = cv2.remap(table, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=border)
    return found.reshape(tall * _ROW, *found.shape[2:])[:count]


def ease(values, low, high):
    """Return 0 below ``low``, 1 above ``high``, smooth between."""
    t = np.clip((values - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)
