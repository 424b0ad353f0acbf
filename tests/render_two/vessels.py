"""Vessels and rays drawn one by one on a face."""

import cv2
import numpy as np


def strokes(rng, shape, mm, count, chance, slope, length_mm, dark, width_px=1.0):
    """Return what ``count`` vessels lay on a grid: short dashes along the fibres.

    ``chance`` (rows, columns) is the share of vessels that a place keeps, ``slope`` the fibres'
    dy over dx there.
    """
    rows, columns = shape
    y = rng.random(count, dtype=np.float32) * rows
    x = rng.random(count, dtype=np.float32) * columns
    at = y.astype(int), x.astype(int)
    keep = rng.random(count, dtype=np.float32) < chance[at]
    y, x = y[keep], x[keep]
    lean = slope[at][keep]
    length = rng.lognormal(np.log(length_mm), 0.45, y.size).astype(np.float32) / mm
    weight = dark * rng.uniform(0.4, 1.3, y.size).astype(np.float32)
    points = np.maximum((length / 1.0).astype(int), 1)
    whole = np.repeat(np.arange(y.size), points)
    along = np.arange(whole.size) - np.repeat(np.cumsum(points) - points, points)
    share = (along / np.maximum(points, 1)[whole]).astype(np.float32) - np.float32(0.5)
    px = x[whole] + share * length[whole]
    py = y[whole] + share * length[whole] * lean[whole]
    fade = weight[whole] * 1.0 * (1 - (2 * share) ** 4)
    return _splat(px, py, fade, shape) / width_px


def _splat(x, y, weight, shape):
    rows, columns = shape
    total = np.zeros(rows * columns, np.float64)
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    fx, fy = x - left, y - top
    good = (left >= 0) & (top >= 0) & (left < columns - 1) & (top < rows - 1)
    left, top, fx, fy, weight = (v[good] for v in (left, top, fx, fy, weight))
    for dx in (0, 1):
        for dy in (0, 1):
            share = weight * (fx if dx else 1 - fx) * (fy if dy else 1 - fy)
            total += np.bincount((top + dy) * columns + left + dx, share, minlength=rows * columns)
    return total.reshape(shape).astype(np.float32)


def rays(rng, shape, mm, flatness, slope, ray_mm):
    """Return big rays cut by a face: dark lines where it is flat sawn, flecks where quartered.

    ``flatness`` (rows, columns): the sine of the angle between the face and the rays.
    Dark lines are positive, bright flecks negative.
    """
    count = int(shape[0] * shape[1] * mm * mm / 55)
    y, x = rng.integers(0, shape[0], count), rng.integers(0, shape[1], count)
    flat, lean = flatness[y, x], slope[y, x]
    is_fleck = flat < 0.35
    tall = rng.lognormal(np.log(ray_mm), 0.5, count) * np.where(is_fleck, 0.7, 1.0)
    thick = rng.uniform(0.18, 0.45, count)
    deep = rng.lognormal(np.log(14.0), 0.6, count)
    across = np.where(is_fleck, np.minimum(deep, thick / np.maximum(flat, 0.03)), thick)
    level = rng.integers(90, 240, count)
    turn = np.linspace(0, 2 * np.pi, 10, endpoint=False)
    canvases = {False: np.zeros(shape, np.uint8), True: np.zeros(shape, np.uint8)}
    half, wide = tall / (2 * mm), np.maximum(across / (2 * mm), 0.3)
    bend = 1 + 0.3 * np.cos(3 * turn[None] + np.arange(count)[:, None])
    px = x[:, None] + half[:, None] * np.cos(turn)
    py = y[:, None] + wide[:, None] * np.sin(turn) * bend + (lean * half)[:, None] * np.cos(turn)
    points = np.round(np.stack([px, py], axis=2) * 16).astype(np.int32)
    for n in np.flatnonzero(~is_fleck | (rng.random(count) < 0.5)):
        canvas = canvases[bool(is_fleck[n])]
        cv2.fillPoly(canvas, [points[n]], int(level[n]), cv2.LINE_AA, 4)
    return (canvases[False].astype(np.float32) - canvases[True]) / 255
