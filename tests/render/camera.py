"""A phone's camera: from the reference frame to photo pixels and back, with lens distortion."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """Pinhole with distortion k1 k2 k3 p1 p2; ``Xc = R X + t``; square pixels, no skew.

    Pixel (0, 0) is the centre of the first pixel of the upright photograph.
    """

    focal: float
    cx: float
    cy: float
    size: tuple[int, int]  # width, height
    lens: tuple[float, ...]
    turn: tuple[tuple[float, float, float], ...]  # R
    shift: tuple[float, float, float]  # t

    @property
    def R(self) -> F64:  # noqa: N802 - the name the field gives it
        return np.array(self.turn, dtype=np.float64)

    @property
    def centre(self) -> F64:
        """Where the lens is, reference frame, mm."""
        return -self.R.T @ np.array(self.shift)

    def project(self, points: NDArray[np.floating]) -> F64:
        """Return photo pixels (N, 2) of points (N, 3) of the reference frame."""
        seen = np.asarray(points, dtype=np.float64) @ self.R.T + np.array(self.shift)
        x, y = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2]
        k1, k2, k3, p1, p2 = self.lens
        r2 = x * x + y * y
        d = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        xd = x * d + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        yd = y * d + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        return np.column_stack([self.focal * xd + self.cx, self.focal * yd + self.cy])

    def faces(self, points: NDArray[np.floating]) -> NDArray[np.bool_]:
        """Say which points (N, 3) lie before the lens and no wider than its model holds."""
        seen = np.asarray(points, dtype=np.float64) @ self.R.T + np.array(self.shift)
        deep = np.maximum(seen[:, 2], 1e-6)
        return (seen[:, 2] > 200) & (np.hypot(seen[:, 0], seen[:, 1]) < 1.05 * deep)

    def rays(self, u: NDArray[np.floating], v: NDArray[np.floating]) -> tuple[NDArray, ...]:
        """Return the direction of sight (reference frame) of pixels of any shape."""
        xd = ((u - self.cx) / self.focal).astype(np.float32)
        yd = ((v - self.cy) / self.focal).astype(np.float32)
        k1, k2, k3, p1, p2 = (np.float32(k) for k in self.lens)
        x, y = xd, yd
        for _ in range(5):
            r2 = x * x + y * y
            d = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
            dx = 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
            dy = p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
            x, y = (xd - dx) / d, (yd - dy) / d
        R = self.R.astype(np.float32)
        return tuple(R[0, i] * x + R[1, i] * y + R[2, i] for i in range(3))


def aim(
    target: F64,
    away: float,
    tilt_deg: float,
    stand_deg: float,
    roll_deg: float,
    *,
    focal: float,
    centre: tuple[float, float],
    size: tuple[int, int],
    lens: tuple[float, ...],
) -> Camera:
    """Return a camera ``away`` mm from the target, tilted from straight down.

    The photographer stands on the side ``stand_deg`` (from x towards y) of the target; the top of
    the upright picture points away from that side.
    """
    tilt, stand, roll = np.radians([tilt_deg, stand_deg, roll_deg])
    back = np.array([np.cos(stand), np.sin(stand), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    lens_at = target + away * (np.cos(tilt) * up + np.sin(tilt) * back)
    ahead = (target - lens_at) / away
    right = np.cross(-back, up)
    down = np.cross(ahead, right)
    right, down = (
        np.cos(roll) * right + np.sin(roll) * down,
        -np.sin(roll) * right + np.cos(roll) * down,
    )
    R = np.array([right, down, ahead])
    t = -R @ lens_at
    return Camera(
        focal=focal,
        cx=float(centre[0]),
        cy=float(centre[1]),
        size=size,
        lens=tuple(float(k) for k in lens),
        turn=tuple(tuple(float(v) for v in row) for row in R),  # type: ignore[arg-type]
        shift=tuple(float(v) for v in t),  # type: ignore[arg-type]
    )
