"""Cracks that wander through a floor, and the net of hairlines in which cement crazes."""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Voronoi

F64 = NDArray[np.float64]
Place = Callable[[F64], NDArray[np.int32]]  # floor points to pixels times 16
MM = 1.6  # a pixel of the pictures they are drawn in


def crack(
    picture: NDArray[np.uint8],
    rng: np.random.Generator,
    place: Place,
    at: F64,
    turn: float,
    long: float,
    branches: int,
) -> None:
    """Draw a crack as a random walk that keeps its way, with finer ones leaving it."""
    step, heading, wide = 7.0, turn, rng.uniform(0.35, 0.9) * (1 + 0.45 * branches)
    points, drift = [at], 0.0
    for _ in range(int(long / step)):
        drift = 0.86 * drift + rng.normal(0, 0.16)
        heading += 0.05 * (turn - heading) + rng.normal(0, 0.22)
        points.append(points[-1] + step * np.array([np.cos(heading + drift), np.sin(heading)]))
    walk = place(np.array(points))
    gape = np.abs(1 + np.cumsum(rng.normal(0, 0.16, len(walk)))) % 2
    for i in range(len(walk) - 1):
        w = wide * (0.3 + 0.7 * gape[i]) * min(1.0, (len(walk) - i) / 30)
        ink = int(np.clip(128 - 95 * w / MM, 26, 122))
        p, q = tuple(map(int, walk[i])), tuple(map(int, walk[i + 1]))
        cv2.line(picture, p, q, ink, max(1, round(w / MM)), cv2.LINE_AA, 4)
    if branches:
        for k in rng.integers(0, len(points), int(rng.integers(1, 4))):
            side = turn + rng.choice([-1, 1]) * rng.uniform(0.4, 1.3)
            on = long * rng.uniform(0.1, 0.4)
            crack(picture, rng, place, points[int(k)], side, on, branches - 1)


def craze(picture: NDArray[np.uint8], rng: np.random.Generator, place: Place, centre: F64) -> None:
    """Draw a field of hairlines as cement crazes: cells, many broken off, lime along some."""
    reach = rng.uniform(250, 900)
    cell = float(np.exp(rng.uniform(np.log(45), np.log(190))))
    n = int(min(2.6 * (reach / cell) ** 2, 500))
    cells = Voronoi(centre + rng.uniform(-reach, reach, (n, 2)))
    limy = rng.random() < 0.5
    for i, j in cells.ridge_vertices:
        if i < 0 or j < 0:
            continue
        p, q = cells.vertices[i], cells.vertices[j]
        far = np.hypot(*((p + q) / 2 - centre)) / reach
        if far > 1 or rng.random() < 0.25 + 0.6 * far or np.hypot(*(p - q)) > 4 * cell:
            continue
        t = np.linspace(0, 1, 7)[:, None]
        bent = rng.normal(0, 0.035 * np.hypot(*(p - q)), (7, 2)) * np.sin(np.pi * t) ** 0.5
        line = [place(p + (q - p) * t + bent)]
        if limy and rng.random() < 0.6:
            cv2.polylines(picture, line, False, int(rng.integers(132, 146)), 3, cv2.LINE_AA, 4)
        cv2.polylines(picture, line, False, int(rng.integers(88, 118)), 1, cv2.LINE_AA, 4)
