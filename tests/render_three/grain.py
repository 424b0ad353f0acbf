"""Where fibres and rings of a face run: two fields, and lines followed along them."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.fields import smooth

# Fields are smooth: one value every so many pixels of the canvas does.
COARSE = 4
CELL_MM = BASE_MM * COARSE


@dataclass(frozen=True)
class Swell:
    """Where a knot pushes the grain aside: middle and half axes in mm of the canvas."""

    x: float
    y: float
    long: float
    wide: float
    strength: float


@dataclass(frozen=True)
class Grain:
    """``fibre``: a line of one value follows the fibres, mm (h, w); ``ring``: rings crossed (h, w).

    Both have one value every `COARSE` pixels of a canvas of ``shape`` pixels.
    """

    fibre: np.ndarray
    ring: np.ndarray
    shape: tuple[int, int]

    def full(self, field: np.ndarray) -> np.ndarray:
        """Return a field at every pixel of the canvas, (H, W) float32."""
        h, w = self.shape
        return cv2.resize(field, (w, h), interpolation=cv2.INTER_LINEAR)

    def followed(
        self, start: tuple[float, float], x_end: float, *, rings: bool = False, most: float = 0.9
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return x and y (mm) of the fibre, or the ring, from a point on to ``x_end``.

        ``most``: a steeper course than this is not followed.
        """
        field = self.ring if rings else self.fibre
        x, y = start
        step = CELL_MM if x_end >= x else -CELL_MM
        count = max(int(abs(x_end - x) / CELL_MM), 1)
        xs, ys = [x], [y]
        h, w = field.shape
        for _ in range(count):
            c, r = int(x / CELL_MM), int(y / CELL_MM)
            c, r = min(max(c, 1), w - 2), min(max(r, 1), h - 2)
            across = field[r + 1, c] - field[r - 1, c]
            along = field[r, c + 1] - field[r, c - 1]
            slope = -along / across if abs(across) > 1e-6 else 0.0
            y += float(min(max(slope, -most), most)) * step
            x += step
            xs.append(x)
            ys.append(y)
        return np.array(xs), np.array(ys)


def draw_grain(
    rng: np.random.Generator, shape: tuple[int, int], swells: tuple[Swell, ...]
) -> tuple[Grain, float]:
    """Return the grain of a canvas of ``shape`` pixels and the mean width of its rings, mm."""
    h, w = shape[0] // COARSE + 1, shape[1] // COARSE + 1
    X, Y = np.meshgrid(
        np.arange(w, dtype=np.float32) * CELL_MM, np.arange(h, dtype=np.float32) * CELL_MM
    )
    fibre = Y + np.float32(rng.normal(0, 0.025)) * X
    fibre += smooth(rng, (h, w), 260, 300) * rng.uniform(0, 7)
    way = rng.random()
    if way < 0.2:
        fibre += smooth(rng, (h, w), rng.uniform(14, 45), 120) * rng.uniform(0.3, 1.2)
    elif way < 0.35:
        fibre += smooth(rng, (h, w), 110, 90) * rng.uniform(3, 9)
    turned = np.zeros_like(fibre)
    swell = np.zeros_like(fibre)
    for s in swells:
        dx, dy = X - s.x, Y - s.y
        far = (dx / s.long) ** 2 + (dy / s.wide) ** 2
        turned -= dy * np.float32(0.75 * s.strength) / (1 + far)
        swell += np.float32(s.strength * s.wide * 0.9) * np.exp(-far / 3)
    fibre += turned
    ring_mm = float(np.exp(rng.uniform(np.log(1.2), np.log(7.0))))
    tall = h * CELL_MM
    pith_y = float(rng.uniform(-0.1, 1.1) * tall)
    cut = rng.random()
    if cut < 0.55:  # Flat-sawn: the plane passes the pith at a height that changes along it.
        high = rng.uniform(8, 90) + rng.normal(0, 0.04) * X
        high = high + smooth(rng, (h, w), 300, 400) * rng.uniform(1, 6)
        radius = np.hypot(fibre - pith_y, np.maximum(high, 0.3 * high + 2))
    elif cut < 0.85:
        pith_y = float(-rng.uniform(0.3, 3) * tall)
        radius = np.hypot(fibre - pith_y, rng.uniform(0, 80))
    else:
        radius = np.abs(fibre - pith_y) + 0.02 * X
    radius = radius + swell
    radius += smooth(rng, (h, w), 50, 10) * ring_mm * rng.uniform(0.02, 0.25)
    radius += smooth(rng, (h, w), 10, 4) * ring_mm * rng.uniform(0, 0.06)
    ring = (radius / ring_mm).astype(np.float32)
    return Grain(fibre.astype(np.float32), ring - ring.min(), shape), ring_mm
