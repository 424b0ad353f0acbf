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
        dx, dy = x - np.float32(self.photo.board_x), y - np.float32(self.photo.board_y)
        u, v = self._c * dx + self._s * dy, -self._s * dx + self._c * dy
        half = np.float32(self.shape.board.length_mm / 2)
        mx, my = self._sx * u + half, self._sy * v
        up = z - self.lie.lift(mx, my)
        zm = self.thick - up if self.photo.face == 1 else up
        return mx, my, np.broadcast_to(np.asarray(zm, dtype=np.float32), x.shape)

    def surface(self, x: NDArray, y: NDArray) -> NDArray:
        """Return the height of the upper face over the floor, whether or not there is wood."""
        mx, my, _ = self.to_model(x, y, 0.0)
        return self.lie.lift(mx, my) + self.thick

    def below(self, z_model: F32) -> F32:
        """Return how far under the upper face model-frame heights lie."""
        return z_model if self.photo.face == 1 else self.thick - z_model

    def rise(self, mx: F32, my: F32) -> tuple[NDArray, NDArray]:
        """Return how the upper face rises along model x and y."""
        return self.lie.slope(mx, my)

    def gap(self, x: F32, y: F32) -> F32:
        """Return how high the underside is over the floor."""
        mx, my, _ = self.to_model(x, y, 0.0)
        return self.lie.lift(mx, my)

    def direction(self, mx: float, my: float) -> tuple[float, float]:
        """Return a model-frame direction in the floor's plane as reference-frame x, y."""
        u, v = float(self._sx) * mx, float(self._sy) * my
        return float(self._c) * u - float(self._s) * v, float(self._s) * u + float(self._c) * v

    def outside(self, x: F32, y: F32, z: F32 | float) -> F32:
        mx, my, mz = self.to_model(x, y, z)
        out = self.shape.outside(mx, my, mz, ragged=False)[0]
        deep = self.below(mz)
        return np.maximum(out, np.maximum(deep - self.thick, -deep))

    def plan(self, x: F32, y: F32) -> F32:
        mx, my, mz = self.to_model(x, y, 0.0)
        return self.shape.outside(mx, my, np.clip(mz, 0, self.thick), ragged=False)[0]


class Box(Body):
    """The rule or the strip's batten."""

    def __init__(self, ruler: Ruler) -> None:
        self.ruler = ruler
        self.x0, self.x1, self.half = ruler.box()
        self.top = ruler.top_mm

    def outside(self, x: F32, y: F32, z: F32 | float) -> F32:
        out = self.plan(x, y)
        if self.ruler.spec.on == "floor":
            return out
        return np.maximum(out, self.ruler.base(x, y) - z)

    def plan(self, x: F32, y: F32) -> F32:
        return np.maximum(np.maximum(self.x0 - x, x - self.x1), np.abs(y) - np.float32(self.half))
