"""Light over the face: uneven, with shadows' edges and glare."""

import cv2
import numpy as np

from tests.render_three.fields import ramp, smooth


def lit(rng: np.random.Generator, canvas: np.ndarray) -> None:
    """Light the canvas (H, W, 3) of linear light, in place."""
    h, w = canvas.shape[:2]
    small = (h // 8 + 1, w // 8 + 1)
    X, Y = np.meshgrid(
        np.linspace(-1, 1, small[1], dtype=np.float32),
        np.linspace(-1, 1, small[0], dtype=np.float32),
    )
    light = 1 + rng.normal(0, 0.12) * X + rng.normal(0, 0.08) * Y
    light += np.float32(rng.uniform(0, 0.08)) * smooth(rng, small, 80, 60)
    if rng.random() < 0.35:
        for _ in range(int(rng.integers(1, 3))):
            light *= _shadow(rng, X, Y)
    full = cv2.resize(np.maximum(light, 0.05).astype(np.float32), (w, h))
    # A phone's white balance errs towards warm or cool, seldom towards green.
    warm = rng.normal(0, 0.05)
    tint = np.array([1 + warm, 1.0, 1 - warm]) + rng.normal(0, 0.012, 3)
    canvas *= full[..., None] * (tint / tint.mean()).astype(np.float32)
    if rng.random() < 0.2:
        x, y = rng.uniform(-1, 1, 2)
        far = ((X - x) / rng.uniform(0.1, 0.6)) ** 2 + ((Y - y) / rng.uniform(0.3, 1.5)) ** 2
        glare = (np.exp(-far) * rng.uniform(0.03, 0.3)).astype(np.float32)
        canvas += cv2.resize(glare, (w, h))[..., None]


def _shadow(rng: np.random.Generator, X: np.ndarray, Y: np.ndarray) -> np.ndarray:
    """Return the light a shadow leaves: over one side of an edge, or in a band of it."""
    angle = rng.uniform(0, np.pi) if rng.random() < 0.7 else np.pi / 2 + rng.normal(0, 0.03)
    # Y spans a quarter of X: an edge is told in the board's own shape.
    at = np.cos(angle) * X * 4 + np.sin(angle) * Y - rng.uniform(-1.2, 1.2)
    at = at + np.float32(rng.uniform(0, 0.3)) * smooth(rng, X.shape, 40, 40)
    soft = np.exp(rng.uniform(np.log(0.02), np.log(0.5)))
    dark = ramp(at, -soft, soft)
    if rng.random() < 0.5:
        band = rng.uniform(0.1, 1.5)
        dark = dark * (1 - ramp(at - band, -soft, soft))
    return (1 - np.float32(rng.uniform(0.2, 0.65)) * dark).astype(np.float32)
