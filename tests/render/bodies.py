"""The two bodies of a scene: the board as it lies, and the rule or the strip's batten."""

import numpy as np
from numpy.typing import NDArray

from tests.render.lie import Lie
from tests.render.light import Body
from tests.render.noise import F32
from tests.render.rules import Ruler
from tests.render.shape import Shape
from tests.render.specs import PhotoSpec


class Laid(Body):
    """The board as it lies: model frame to reference frame and back."""

    def __init__(self, shape: Shape, photo: PhotoSpec) -> None:
        self.shape, self.photo = shape, photo
        self.lie = Lie(shape.board, photo.face)
        self.thick = np.float32(shape.board.thickness_mm)
        self.top = float(self.thick) + self.lie.highest
        a = np.radians(photo.board_deg)
        self._c, self._s = np.float32(np.cos(a)), np.float32(np.sin(a))
        self._sx = np.float32(-1 if photo.reversed else 1)
        self._sy = -self._sx if photo.face == 1 else self._sx

    def to_model(self, x: F32, y: F32, z: F32 | float) -> tuple[F32, F32, F32]:
        """Return model-frame points of reference-frame points."""
        mx, my = self.across(x, y)
        return mx, my, self._deep(z - self.lie.lift(mx, my), x.shape)

    def across(self, x: F32, y: F32) -> tuple[F32, F32]:
        """Return model-frame x, y of reference-frame points."""
        dx, dy = x - np.float32(self.photo.board_x), y - np.float32(self.photo.board_y)
        u, v = self._c * dx + self._s * dy, -self._s * dx + self._c * dy
        half = np.float32(self.shape.board.length_mm / 2)
        return self._sx * u + half, self._sy * v

    def _deep(self, up: F32, shape: tuple[int, ...]) -> F32:
        zm = self.thick - up if self.photo.face == 1 else up
        return np.broadcast_to(np.asarray(zm, dtype=np.float32), shape)

    def on_floor(self, mx: NDArray, my: NDArray) -> NDArray:
        """Return reference-frame x, y, (N, 2), of model-frame points."""
        half = self.shape.board.length_mm / 2
        u, v = float(self._sx) * (mx - half), float(self._sy) * my
        c, s = float(self._c), float(self._s)
        return np.column_stack(
            [self.photo.board_x + c * u - s * v, self.photo.board_y + s * u + c * v]
        )

    def surface(self, x: NDArray, y: NDArray) -> NDArray:
        """Return the height of the upper face over the floor, whether or not there is wood."""
        return self.lie.lift(*self.across(x, y)) + self.thick

    def below(self, z_model: F32) -> F32:
        """Return how far under the upper face model-frame heights lie."""
        return z_model if self.photo.face == 1 else self.thick - z_model

    def rise(self, mx: F32, my: F32) -> tuple[NDArray, NDArray]:
        """Return how the upper face rises along model x and y."""
        return self.lie.slope(mx, my)

    def is_far(self, run: F32, rise: F32, eye: F32) -> bool:
        """Say whether all rays (x, y run per mm of descent) pass the board by for sure."""
        long, wide = self.shape.reach_mm
        least, most = np.full(2, np.inf), np.full(2, -np.inf)
        for z in (np.float32(-10.0), np.float32(self.top + 10.0)):
            mx, my = self.across(eye[0] + run * (eye[2] - z), eye[1] + rise * (eye[2] - z))
            least = np.minimum(least, (mx.min(), my.min()))
            most = np.maximum(most, (mx.max(), my.max()))
        half = self.shape.board.length_mm / 2
        return bool(
            least[0] > half + long or most[0] < half - long or least[1] > wide or most[1] < -wide
        )

    def direction(self, mx: float, my: float) -> tuple[float, float]:
        """Return a model-frame direction in the floor's plane as reference-frame x, y."""
        u, v = float(self._sx) * mx, float(self._sy) * my
        return float(self._c) * u - float(self._s) * v, float(self._s) * u + float(self._c) * v

    def outside(self, x: F32, y: F32, z: F32 | float) -> F32:
        mx, my, mz = self.to_model(x, y, z)
        out = self.shape.past(mx, my, mz, ragged=False)
        deep = self.below(mz)
        return np.maximum(out, np.maximum(deep - self.thick, -deep))

    def plan(self, x: F32, y: F32) -> F32:
        return self.plan_and_gap(x, y)[0]

    def plan_and_gap(self, x: F32, y: F32) -> tuple[F32, F32]:
        """Return ``plan``, and how high the underside is over the floor."""
        mx, my = self.across(x, y)
        gap = self.lie.lift(mx, my)
        mz = np.clip(self._deep(0.0 - gap, x.shape), 0, self.thick)
        return self.shape.past(mx, my, mz, ragged=False), gap


class Box(Body):
    """The rule or the strip's batten."""

    def __init__(self, ruler: Ruler) -> None:
        self.ruler = ruler
        self.x0, self.x1, self.half = (float(v) for v in ruler.box())
        self.top = ruler.top_mm

    def outside(self, x: F32, y: F32, z: F32 | float) -> F32:
        out = self.plan(x, y)
        if self.ruler.spec.on == "floor":
            return out
        return np.maximum(out, self.ruler.base(x, y) - z)

    def plan(self, x: F32, y: F32) -> F32:
        return np.maximum(np.maximum(self.x0 - x, x - self.x1), np.abs(y) - np.float32(self.half))

    def meet(self, eye: F32, run: F32, rise: F32) -> tuple[NDArray[np.intp], F32]:
        """Return which rays meet it, and at what height (x, y run per mm of descent)."""
        if self._is_far(eye, run, rise):
            return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.float32)
        z = np.full(run.shape, np.float32(self.ruler.top_mm), dtype=np.float32)
        for _ in range(2):  # the batten sags a little, so its top is not quite level
            x, y = eye[0] + run * (eye[2] - z), eye[1] + rise * (eye[2] - z)
            z = np.maximum(self.ruler.height(x, y), 0.5).astype(np.float32)
        base = self.ruler.base(x, y).astype(np.float32)
        x, y = eye[0] + run * (eye[2] - z), eye[1] + rise * (eye[2] - z)
        out = self.plan(x, y)
        height = np.where(out <= 0, z, -1).astype(np.float32)
        x0, y0 = eye[0] + run * (eye[2] - base), eye[1] + rise * (eye[2] - base)
        side = np.nonzero((out > 0) & (out < np.hypot(run, rise) * (z - base) + 2))[0]
        if len(side):
            # Where the ray enters the upright box: the last of its four sides to be crossed.
            enter, leave = np.zeros(len(side)), np.ones(len(side))
            for a, b in (
                (self.x0 - x, self.x0 - x0),
                (x - self.x1, x0 - self.x1),
                (-self.half - y, -self.half - y0),
                (y - self.half, y0 - self.half),
            ):
                a, b = a[side].astype(np.float64), b[side].astype(np.float64)
                cross = np.where(a != b, a / np.where(a != b, a - b, 1), 0)
                enter = np.where((a > 0) & (b < a), np.maximum(enter, cross), enter)
                enter = np.where((a > 0) & (b >= a), 2.0, enter)
                leave = np.where((a <= 0) & (b > 0), np.minimum(leave, cross), leave)
            hit = enter < np.minimum(leave, 1)
            height[side[hit]] = (base[side] + (z[side] - base[side]) * (1 - enter))[hit]
        at = np.nonzero(height >= 0)[0]
        return at, height[at]

    def _is_far(self, eye: F32, run: F32, rise: F32) -> bool:
        """Say whether all rays pass it by for sure."""
        tops = [eye[2] - np.float32(z) for z in (-10.0, self.ruler.top_mm + 20.0)]
        x = [v for t in tops for v in (eye[0] + t * run.min(), eye[0] + t * run.max())]
        y = [v for t in tops for v in (eye[1] + t * rise.min(), eye[1] + t * rise.max())]
        room = 10.0
        return bool(
            min(x) > self.x1 + room
            or max(x) < self.x0 - room
            or min(y) > self.half + room
            or max(y) < -self.half - room
        )
