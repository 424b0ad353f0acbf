"""Random fields and lines: smooth ones, streaks, scattered dashes."""

import cv2
import numpy as np


def smooth(rng: np.random.Generator, shape: tuple[int, int], sx: float, sy: float) -> np.ndarray:
    """Return a smooth field (H, W) float32 of about unit spread, alike over sx by sy pixels."""
    h, w = shape
    rows, columns = int(h / sy) + 5, int(w / sx) + 5
    grid = rng.standard_normal((rows, columns)).astype(np.float32)
    dx, dy = rng.uniform(1, 2, 2)
    move = np.array([[sx, 0, -dx * sx], [0, sy, -dy * sy]], np.float32)
    return 1.25 * cv2.warpAffine(grid, move, (w, h), flags=cv2.INTER_CUBIC)


def octaves(
    rng: np.random.Generator, shape: tuple[int, int], sx: float, sy: float, count: int
) -> np.ndarray:
    """Return a sum of ever finer smooth fields, (H, W) float32 of about unit spread."""
    total = np.zeros(shape, np.float32)
    for n in range(count):
        total += smooth(rng, shape, max(sx / 2**n, 1.0), max(sy / 2**n, 1.0)) * 0.6**n
    return total / np.float32(np.sqrt(sum(0.36**n for n in range(count))))


def line(rng: np.random.Generator, count: int, step: float) -> np.ndarray:
    """Return a smooth line of ``count`` values of about unit spread, alike over ``step`` values."""
    return smooth(rng, (1, max(count, 1)), max(step, 1.0), 1.0)[0].astype(np.float64)


def streaks(
    rng: np.random.Generator, shape: tuple[int, int], length: float, thick: float = 1.0
) -> np.ndarray:
    """Return noise drawn out along x, (H, W) float32 of about unit spread."""
    return smooth(rng, shape, max(length, 1.0), max(thick, 1.0))


def dashes(
    rng: np.random.Generator, shape: tuple[int, int], share: float, length: int
) -> np.ndarray:
    """Return scattered dashes along x, (H, W) float32 in 0-1, covering about ``share``."""
    h, w = shape
    field = np.zeros(h * w, np.float32)
    many = int(share * h * w / max(length, 1))
    field[rng.integers(0, h * w, many)] = rng.uniform(0.5, 1.0, many)
    length = max(int(length), 1)
    long = cv2.blur(field.reshape(h, w), (length, 1)) * length
    return np.minimum(cv2.blur(long, (max(length // 3, 1), 1)), 1.0)


def ramp(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return 0 below ``low``, 1 above ``high``, smooth between."""
    t = np.clip((values - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def linear(srgb: tuple[float, float, float]) -> np.ndarray:
    """Return linear light (3,) float32 of a colour given as 0-255 sRGB."""
    c = np.asarray(srgb, dtype=np.float64) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4).astype(np.float32)
