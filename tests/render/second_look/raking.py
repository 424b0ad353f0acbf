"""The same face once more under a low lamp: relief shades, and so do the lips of its cracks.

The board lies where it lay and the phone was moved. The room is darkened; the lamp stands to one
side of the board, a hand's breadth over it.
"""

from dataclasses import replace

import numpy as np

from tests.render.draw_photos import draw_photo
from tests.render.noise import F32
from tests.render.shape import Shape
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.stage import Stage
from tests.render.surface import FACE_1, FACE_2, Surfaces

# Wood beside a crack dries first and falls away towards it: how steeply, and over how much of it
# (common practice has it that lips can be felt; the figures are this renderer's own).
_LIP_SLOPE = 0.30
_LIP_MM = 0.55
# Thinner cracks have lower lips.
_FULL_LIPS_MM = 0.5


class LippedSurfaces:
    """Surfaces whose cracks have lips."""

    def __init__(self, surfaces: Surfaces, shape: Shape) -> None:
        self._surfaces, self._shape = surfaces, shape

    def shade(
        self, x: F32, y: F32, z: F32, side: int, footprint: F32 | float
    ) -> tuple[F32, F32, F32]:
        """Return albedo, slope along x and slope across, lips included."""
        albedo, hx, hy = self._surfaces.shade(x, y, z, side, footprint)
        if side in (FACE_1, FACE_2):
            hy = hy + self._lips(x, y, z)
        return albedo, hx, hy

    def _lips(self, x: F32, y: F32, z: F32) -> F32:
        total = np.zeros(x.shape, dtype=np.float32)
        for crack in self._surfaces.marks.cracks:
            reach = max(crack.spec.reach1, crack.spec.reach2)
            rough = (crack.from_end(x, y) < reach) & (np.abs(y - crack.spec.y) < 45)
            at = np.nonzero(rough)[0]
            if not len(at):
                continue
            off = y[at] - crack.centre(x[at], z[at])
            wide = crack.opening(x[at], y[at], z[at])
            past = np.maximum(np.abs(off) - wide / 2, 0) / _LIP_MM
            high = np.clip(wide / _FULL_LIPS_MM, 0, 1)
            total[at] += _LIP_SLOPE * np.sign(off) * np.exp(-past * past) * high
        return total


class RakedStage(Stage):
    """The scene under the low lamp."""

    def __init__(self, board: BoardSpec, photo: PhotoSpec) -> None:
        super().__init__(board, photo)
        rng = np.random.default_rng((photo.seed, photo.face, 811))
        up = np.radians(rng.uniform(12, 20))
        # Across the board, give or take: along it a lamp shows saw marks and no checks.
        round_ = np.radians(photo.board_deg + rng.choice([-90.0, 90.0]) + rng.uniform(-25, 25))
        lamp = self.light
        lamp.towards = np.array(
            [np.cos(round_) * np.cos(up), np.sin(round_) * np.cos(up), np.sin(up)]
        )
        lamp.slope = (lamp.towards[:2] / lamp.towards[2]).astype(np.float32)
        lamp.sky = lamp.sky * np.float32(0.25)
        lamp.sun = np.float32([1.0, 0.93, 0.80])
        lamp.soft = np.float32(0.05)
        self.surfaces = LippedSurfaces(self.surfaces, self.shape)  # type: ignore[assignment]


def raking_photo(board: BoardSpec, photo: PhotoSpec) -> PhotoSpec:
    """Return a second photograph of the face as it lies, for `RakedStage`."""
    second = draw_photo(photo.seed + 40_000, board, face=photo.face, like=photo)
    lamp = replace(photo.light, kind="indoor", caster="", seed=photo.light.seed + 1)
    return replace(second, light=lamp)
