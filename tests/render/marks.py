"""Marks a woodworker left on a face: a chalk or crayon loop, a cross, a line across an end."""

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, lookup, noise_2d, smoothstep
from tests.render.shape import Shape
from tests.render.specs import MarkSpec

_PX = 1.0  # mm a pixel of the stroke's picture
_INK = {
    "white chalk": (0.80, 0.80, 0.78),
    "yellow chalk": (0.78, 0.62, 0.16),
    "blue crayon": (0.035, 0.085, 0.32),
    "red crayon": (0.42, 0.045, 0.035),
    "black crayon": (0.018, 0.018, 0.020),
}


class Mark:
    """One mark on one face of the board, model frame."""

    def __init__(self, shape: Shape, spec: MarkSpec) -> None:
        self.spec, self._shape = spec, shape
        self.strokes = _strokes(spec)
        points = np.vstack(self.strokes)
        self._low = points.min(axis=0) - 12
        self._high = points.max(axis=0) + 12
        size = np.ceil((self._high - self._low) / _PX).astype(int) + 1
        rng = np.random.default_rng((spec.seed, 7))
        picture = np.zeros((int(size[1]), int(size[0])), dtype=np.float32)
        for stroke in self.strokes:
            at = np.round((stroke - self._low) / _PX * 16).astype(np.int32)
            press = np.clip(1 + 0.25 * rng.standard_normal(len(at)).cumsum() / 3, 0.6, 1.3)
            for i in range(len(at) - 1):
                wide = max(round(float(spec.wide * press[i]) / _PX), 1)
                p, q = tuple(int(v) for v in at[i]), tuple(int(v) for v in at[i + 1])
                cv2.line(picture, p, q, float(press[i]), wide, cv2.LINE_AA, 4)
        self._picture = cv2.GaussianBlur(np.clip(picture, 0, 1.2), (0, 0), 0.8 / _PX)

    def paint(self, colour: F32, x: F32, y: F32, relief: F32) -> None:
        """Lay the mark into the colours, in place; the ink stays on the high places."""
        at = np.nonzero(
            (x > self._low[0]) & (x < self._high[0]) & (y > self._low[1]) & (y < self._high[1])
        )[0]
        if not len(at):
            return
        xs, ys = x[at], y[at]
        column = ((xs - np.float32(self._low[0])) / _PX).astype(np.float32)
        row = ((ys - np.float32(self._low[1])) / _PX).astype(np.float32)
        cover = lookup(self._picture, column, row)
        grain = noise_2d(self.spec.seed, xs * 0.3, ys, 1.5) + 0.9 * noise_2d(
            self.spec.seed + 1, xs, ys, 4.0
        )
        waxy = "crayon" in self.spec.tool
        miss = (-0.9 if waxy else -0.3) - 1.5 * (cover - 0.5)
        cover = np.clip(cover, 0, 1) * smoothstep(miss, miss + 1.4, grain + 0.5 * relief[at])
        ink = np.float32(_INK[self.spec.tool])
        colour[at] += (ink - colour[at]) * ((0.88 if waxy else 0.74) * cover)[:, None]

    def outline(self, face: str) -> NDArray[np.float64] | None:
        """Return the mark's hull on a face, kept on the wood, or None where it is not."""
        if face != str(self.spec.face):
            return None
        hull = cv2.convexHull(np.vstack(self.strokes).astype(np.float32))[:, 0, :].astype(float)
        middle = hull.mean(axis=0)
        away = hull - middle
        size = np.linalg.norm(away, axis=1, keepdims=True)
        hull = middle + away * (1 + 0.5 * self.spec.wide / np.maximum(size, 1))
        z = 0.0 if face == "1" else self._shape.board.thickness_mm
        x = np.clip(hull[:, 0], self._shape.end(hull[:, 1], "A"), self._shape.end(hull[:, 1], "B"))
        low, high = (self._shape.edge(x, z, side, with_bark=False) for side in (-1, 1))
        return np.column_stack([x, np.clip(hull[:, 1], low, high)])


def _strokes(spec: MarkSpec) -> list[NDArray[np.float64]]:
    """Return the hand's paths, (N, 2) each."""
    rng = np.random.default_rng((spec.seed, 3))
    centre, (rx, ry) = np.array([spec.x, spec.y]), spec.size

    def shaky(path: NDArray[np.float64], much: float) -> NDArray[np.float64]:
        wander = rng.standard_normal((len(path), 2)).cumsum(axis=0) * much / np.sqrt(len(path))
        return centre + path + wander - wander.mean(axis=0)

    if spec.kind == "loop":
        over = rng.uniform(0.1, 0.9)
        a = np.linspace(0, 2 * np.pi + over, 60) + rng.uniform(0, 6.28)
        swell = 1 + 0.08 * np.sin(2 * a + rng.uniform(0, 6)) + np.linspace(0, 0.12, 60)
        return [shaky(np.column_stack([rx * np.cos(a), ry * np.sin(a)]) * swell[:, None], 3.0)]
    t = np.linspace(-1, 1, 30)
    bend = rng.normal(0, 0.06, 2)
    if spec.kind == "line":
        lean = rng.normal(0, 0.06)
        path = np.column_stack([ry * (lean * t + bend[0] * (1 - t * t)), ry * t])
        return [shaky(path, 2.5)]
    one = np.column_stack([rx * t, ry * (t + bend[0] * (1 - t * t))])
    two = np.column_stack([rx * t, -ry * (0.9 * t + bend[1] * (1 - t * t))])
    return [shaky(one, 2.0), shaky(two, 2.0)]
