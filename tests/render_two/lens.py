"""A simple camera: pinhole, lens distortion, where it stands.

Reference frame: mm, x along the strip from its zero, y across it to the board's side, z up.
Equations: those of OpenCV's camera model (Brown, 1966).
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, eq=False)
class Camera:
    """``R``, ``t`` take reference points into the camera; ``lens`` is k1, k2, k3, p1, p2."""

    R: np.ndarray
    t: np.ndarray
    f: float
    cx: float
    cy: float
    lens: tuple[float, ...]
    size: tuple[int, int]

    @property
    def eye(self):
        return -self.R.T @ self.t

    def project(self, points):
        """Return pixels (n, 2) of reference points (n, 3)."""
        seen = np.asarray(points, float) @ self.R.T + self.t
        x, y = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2]
        k1, k2, k3, p1, p2 = self.lens
        r2 = x * x + y * y
        d = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        xd = x * d + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        yd = y * d + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        return np.column_stack([self.f * xd + self.cx, self.f * yd + self.cy])

    def ways(self, u, v):
        """Return directions in the reference frame (n, 3) of pixels."""
        matrix = np.array([[self.f, 0, self.cx], [0, self.f, self.cy], [0, 0, 1.0]])
        k1, k2, k3, p1, p2 = self.lens
        pixels = np.column_stack([u, v]).astype(np.float64)[:, None]
        plain = cv2.undistortPoints(pixels, matrix, np.array([k1, k2, p1, p2, k3]))[:, 0]
        return np.column_stack([plain, np.ones(len(plain))]) @ self.R


SIZE = (3264, 2448)


def draw_camera(rng, box, height_mm, size=SIZE) -> Camera:
    """Return a camera that sees a box (x0, y0, x1, y1) of the floor, as a standing person would."""
    wide, tall = size
    f = rng.uniform(25.0, 28.0) * np.hypot(wide, tall) / 43.27
    middle = np.array([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2, height_mm])
    need = max((box[2] - box[0]) / wide, 1.6 * (box[3] - box[1]) / tall)
    far = max(need * f * rng.uniform(1.06, 1.2), 700.0)
    lean, side = np.radians(rng.uniform(0, 17)), np.radians(rng.normal(0, 4))
    # The person stands at the strip's side or at the board's.
    away = rng.choice([-1.0, 1.0])
    eye = middle + far * np.array([np.sin(side), away * -np.sin(lean), np.cos(lean) * np.cos(side)])
    ahead = middle + np.array([rng.normal(0, 15), rng.normal(0, 10), 0]) - eye
    ahead /= np.linalg.norm(ahead)
    roll = rng.normal(0, 0.02)
    right = np.array([np.cos(roll), np.sin(roll), 0.0])
    right -= (right @ ahead) * ahead
    right /= np.linalg.norm(right)
    if away < 0:  # seen from the far side the picture stands on its head
        right = -right
    R = np.stack([right, np.cross(ahead, right), ahead])
    lens = (rng.normal(0.01, 0.02), rng.normal(-0.01, 0.01), 0.0, *rng.normal(0, 1.5e-4, 2))
    cx, cy = wide / 2 - 0.5 + rng.normal(0, 12), tall / 2 - 0.5 + rng.normal(0, 12)
    return Camera(R, -R @ eye, float(f), float(cx), float(cy), lens, size)
