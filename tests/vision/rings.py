"""Faces of boards whose rings are circles round a pith, drawn."""

import numpy as np
from shapely.geometry import box

from scanner.vision.looks.of_board import FaceWood

WIDTH, LENGTH, THICK, PX = 180.0, 300.0, 27.0, 0.5


def face(number, ring_mm, pith_mm, depth_mm, seed=0):
    """Return a face of a board whose pith lies ``depth_mm`` beyond face 2."""
    rng = np.random.default_rng((seed, number))
    rows, columns = round(WIDTH / PX), round(LENGTH / PX)
    y = (np.arange(rows) * PX - WIDTH / 2 - pith_mm)[:, None] + np.zeros((1, columns))
    deep = depth_mm + (THICK if number == 1 else 0.0)
    x = np.arange(columns) * PX
    phase = (np.hypot(y, deep) + 0.004 * x) / ring_mm % 1.0
    light = 150 * (1 - 0.25 * np.clip(1 - phase / 0.35, 0, 1))
    light = light * (1 + 0.05 * rng.standard_normal(light.shape))
    pixels = np.repeat(np.clip(light, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return FaceWood(pixels, PX, (0.0, 0.0), box(0, 0, LENGTH, WIDTH))


def board(ring_mm=3.0, pith_mm=10.0, depth_mm=40.0, seed=0):
    return {n: face(n, ring_mm, pith_mm, depth_mm, seed) for n in (1, 2)}
