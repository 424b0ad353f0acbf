"""Holes, bark pockets, stains, pitch and pith: painted, and outlined as they were painted."""

import cv2
import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.courses import Course, course_of, uneven
from tests.render_three.cracks import lens
from tests.render_three.fields import line, octaves, ramp
from tests.render_three.grain import Grain

_TURN = np.linspace(0, 2 * np.pi, 40, endpoint=False)


def blob(rng: np.random.Generator, x: float, y: float, long: float, wide: float, rough: float):
    """Return a wobbly oval (40, 2) px of the canvas, from mm."""
    rim = 1 + sum(
        rng.normal(0, rough / n) * np.cos(n * _TURN + rng.uniform(0, 6)) for n in range(2, 8)
    )
    ring = np.column_stack([x + long * rim * np.cos(_TURN), y + wide * rim * np.sin(_TURN)])
    return ring / BASE_MM


def _patch(canvas: np.ndarray, ring: np.ndarray, more_px: float):
    """Return the canvas round a ring, and how far inside it each pixel lies there, px."""
    h, w = canvas.shape[:2]
    x0, y0 = np.maximum(np.floor(ring.min(0) - more_px), 0).astype(int)
    x1, y1 = np.minimum(np.ceil(ring.max(0) + more_px) + 1, (w, h)).astype(int)
    if x1 - x0 < 3 or y1 - y0 < 3:
        return None
    mask = np.zeros((y1 - y0, x1 - x0), np.uint8)
    moved = np.round((ring - [x0, y0]) * 16).astype(np.int32)
    cv2.fillPoly(mask, [moved], 1, cv2.LINE_8, 4)
    inside = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
    outside = cv2.distanceTransform(1 - mask, cv2.DIST_L2, 5)
    return canvas[y0:y1, x0:x1], inside - outside


def paint_hole(rng: np.random.Generator, canvas: np.ndarray, x: float, y: float) -> np.ndarray:
    """Paint a worm hole or a bolt's hole; return its outline (N, 2) px."""
    if rng.random() < 0.6:
        size = rng.uniform(0.5, 1.6)
        ring = blob(rng, x, y, size * rng.uniform(1, 1.6), size, 0.05)
    else:
        size = rng.uniform(2.5, 8)
        ring = blob(rng, x, y, size * rng.uniform(0.95, 1.2), size, 0.03)
    found = _patch(canvas, ring, 3 / BASE_MM)
    if found is None:
        return ring
    patch, deep = found
    rows = np.linspace(-1, 1, patch.shape[0], dtype=np.float32)[:, None]
    cover = ramp(deep, -0.8, 0.8)
    light = np.float32(rng.normal(0, 0.25))
    patch *= (1 + light * rows * np.exp(-np.abs(deep) * BASE_MM / 0.5))[..., None]
    if rng.random() < 0.4:  # A dark ring: iron, or what the beetle left.
        patch *= (1 - rng.uniform(0.1, 0.6) * np.exp(np.minimum(deep, 0) * BASE_MM / 1.2))[
            ..., None
        ]
    inner = patch * np.float32(rng.uniform(0.02, 0.15)) * np.array([1, 0.8, 0.65], np.float32)
    inner *= (1 + 0.8 * np.clip(rows * np.sign(light), 0, 1))[..., None]
    patch += (inner - patch) * cover[..., None]
    return ring


def paint_bark(rng: np.random.Generator, canvas: np.ndarray, x: float, y: float) -> np.ndarray:
    """Paint a bark pocket; return its outline (N, 2) px."""
    ring = blob(rng, x, y, rng.uniform(5, 30), rng.uniform(1.5, 6), 0.16)
    found = _patch(canvas, ring, 6 / BASE_MM)
    if found is None:
        return ring
    patch, deep = found
    noise = octaves(rng, patch.shape[:2], 20, 8, 4)
    bark = np.array([0.075, 0.048, 0.032], np.float32) * np.float32(rng.uniform(0.4, 2.2))
    inner = bark * np.clip(1 + 0.5 * noise, 0.15, 2.2)[..., None]
    patch *= (1 - 0.25 * rng.random() * np.exp(np.minimum(deep, 0) * BASE_MM / 2.5))[..., None]
    cover = ramp(deep + noise * 1.5, -1.2, 1.2)
    patch += (inner - patch) * cover[..., None]
    # The gap that bark leaves where it has shrunk.
    gap = np.exp(-(((deep - 2.0) / 1.2) ** 2)) * ramp(noise, -0.3, 0.6) * rng.uniform(0, 0.9)
    patch *= (1 - gap)[..., None]
    return ring


def paint_stain(
    rng: np.random.Generator, canvas: np.ndarray, grain: Grain, x: float, y: float
) -> np.ndarray:
    """Paint a fungus's or an iron stain with soft borders; return where it is half strong."""
    long, wide = rng.uniform(15, 80), rng.uniform(5, 25)
    ring = blob(rng, x, y, long, wide, 0.2)
    found = _patch(canvas, ring, 8 / BASE_MM)
    if found is None:
        return ring
    patch, deep = found
    soft = rng.uniform(1, 6) / BASE_MM
    noise = octaves(rng, patch.shape[:2], 160, 12, 4)
    cover = ramp(deep + noise * soft, -soft, soft) * np.clip(0.85 + 0.25 * noise, 0, 1)
    tint = np.array(
        [(0.45, 0.52, 0.58), (0.35, 0.32, 0.34), (0.6, 0.5, 0.4)][rng.integers(0, 3)], np.float32
    )
    strength = np.float32(rng.uniform(0.4, 1.0))
    patch *= 1 - (cover * strength)[..., None] * (1 - tint)
    return ring


def streak_course(
    rng: np.random.Generator, grain: Grain, x: float, y: float, long: float, wide: float
) -> Course:
    """Return a lens along the fibres, ``long`` and ``wide`` in mm: pitch, pith, mineral."""
    xs, ys = grain.followed((x - long / 2, y), x + long / 2)
    ys = ys - (ys[len(ys) // 2] - y) + line(rng, len(ys), 30) * 0.1 * wide
    widths = lens(rng, wide) * uneven(rng, 60, 10, 0.2)
    return course_of(xs, ys, widths, np.ones(4))


def paint_streak(
    rng: np.random.Generator,
    canvas: np.ndarray,
    course: Course,
    factor: np.ndarray,
    soft_mm: float,
    shine: float = 0.0,
) -> None:
    """Darken or tint a streak: ``factor`` (3,) times the wood, soft by ``soft_mm``."""
    h, w = canvas.shape[:2]
    left, right = max(course.first, 0), min(course.first + len(course.upper), w)
    if right - left < 3:
        return
    cut = slice(left - course.first, right - course.first)
    upper, lower = course.upper[cut], course.lower[cut]
    soft = max(soft_mm / BASE_MM, 0.5)
    top = max(int(upper.min() - 3 * soft) - 1, 0)
    bottom = min(int(lower.max() + 3 * soft) + 2, h)
    if bottom - top < 2:
        return
    rows = np.arange(top, bottom, dtype=np.float32)[:, None]
    deep = np.minimum(rows - upper, lower - rows).astype(np.float32)
    noise = octaves(rng, deep.shape, 100, 5, 3)
    cover = ramp(deep + 0.3 * soft * noise, -soft, soft) * np.clip(0.8 + 0.25 * noise, 0, 1)
    patch = canvas[top:bottom, left:right]
    patch *= 1 - cover[..., None] * (1 - factor.astype(np.float32))
    if shine:
        edge = np.exp(-(((rows - upper - 0.3 * (lower - upper)) / (0.5 + soft)) ** 2))
        patch += (shine * edge * cover * ramp(noise, 0.4, 1.4))[..., None].astype(np.float32)
