"""What lies on the wood and is no flaw: pencil, dirt, damp, chalk, sticker marks."""

import cv2
import numpy as np

from tests.render_two.noise import cloud, ease, wander


def lay_strays(rng, plank, albedo, origin, mm):
    """Return the reflectance with marks on it, and a factor (damp wood is darker)."""
    shape = albedo.shape[:2]
    x = (np.arange(shape[1]) * mm + origin[0])[None]
    y = (np.arange(shape[0]) * mm + origin[1])[:, None]
    faded = np.ones((*shape, 1), np.float32)
    if rng.random() < 0.35:
        albedo = _pencil(rng, albedo, shape, mm)
    if rng.random() < 0.3:
        albedo = _chalk_line(rng, albedo, shape, mm)
    if rng.random() < 0.25:
        crumbs = cloud(rng, shape, (2 / mm, 2.5 / mm)) + 1.2 * cloud(rng, shape, (40 / mm, 55 / mm))
        dirt = rng.uniform(0.12, 0.5) * ease(crumbs, 2.2, 4.6)
        albedo = albedo * (1 - dirt)[..., None] + dirt[..., None] * np.array([0.12, 0.10, 0.08])
    if rng.random() < 0.2:
        cx, cy = rng.uniform(0.1, 0.9) * plank.length, rng.uniform(0, 1) * plank.width
        a, b = rng.uniform(30, 140), rng.uniform(20, 70)
        r = np.hypot((x - cx) / a, (y - cy) / b) + 0.15 * cloud(rng, shape, (30 / mm, 40 / mm))
        damp = 1 - ease(r, 0.9, 1.05)
        faded = faded * (1 - rng.uniform(0.2, 0.42) * damp)[..., None]
    if rng.random() < 0.3:
        for at in np.arange(rng.uniform(100, 400), plank.length, rng.uniform(380, 620)):
            band = np.exp(-(((x - at + 0.05 * y) / rng.uniform(9, 16)) ** 4))
            faded = faded * (1 + rng.uniform(-0.13, 0.1) * band)[..., None]
    return albedo, faded


def _polyline(shape, points, mm, width_mm):
    mask = np.zeros(shape, np.uint8)
    px = np.round(np.asarray(points) / mm * 16).astype(np.int32)
    cv2.polylines(mask, [px], False, 255, max(1, round(width_mm / mm)), cv2.LINE_AA, 4)
    return mask.astype(np.float32) / 255


def _pencil(rng, albedo, shape, mm):
    height, length = shape[0] * mm, shape[1] * mm
    for _ in range(int(rng.integers(1, 4))):
        x = rng.uniform(0.05, 0.95) * length
        if rng.random() < 0.6:  # a line across, or a tick
            y0, y1 = (0, height) if rng.random() < 0.5 else np.sort(rng.uniform(0, height, 2))
            points = [(x, y0), (x + rng.normal(0, 3), y1)]
        else:
            t = np.linspace(0, 1, 40)
            points = np.column_stack(
                [x + 70 * t + 6 * wander(rng, 40, 4), height * 0.5 + 12 * wander(rng, 40, 5)]
            )
        albedo = _drawn(rng, albedo, points, mm, 0.7, 0.5, np.array([0.1, 0.1, 0.1]))
    return albedo


def _drawn(rng, albedo, points, mm, width_mm, strength, colour):
    """Return the reflectance with a line drawn on it, worn as the wood is rough."""
    points = np.asarray(points, float)
    left = max(int((points[:, 0].min() - 8) / mm), 0)
    right = min(int((points[:, 0].max() + 8) / mm) + 1, albedo.shape[1])
    if right - left < 8:
        return albedo
    shape = (albedo.shape[0], right - left)
    grain = np.clip(0.8 + 0.5 * cloud(rng, shape, (1.5, 4)), 0.05, 1)
    mark = (_polyline(shape, points - [left * mm, 0], mm, width_mm) * grain * strength)[..., None]
    albedo = albedo.copy()
    albedo[:, left:right] = albedo[:, left:right] * (1 - mark) + mark * colour
    return albedo


def _chalk_line(rng, albedo, shape, mm):
    """A tally or a stroke of chalk or lumber crayon that encloses nothing."""
    height, length = shape[0] * mm, shape[1] * mm
    colour = [(0.8, 0.8, 0.78), (0.55, 0.12, 0.10), (0.1, 0.2, 0.5)][int(rng.integers(3))]
    x = rng.uniform(0.1, 0.85) * length
    for n in range(int(rng.integers(1, 5))):
        left = x + 22 * n
        t = np.linspace(0, 1, 12)
        points = np.column_stack(
            [left + 8 * t + rng.normal(0, 2) + wander(rng, 12, 4), height * (0.25 + 0.5 * t)]
        )
        albedo = _drawn(rng, albedo, points, mm, rng.uniform(3, 6), 0.8, np.array(colour))
    return albedo
