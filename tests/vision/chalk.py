"""Chalk and crayon drawn on flat pictures of wood: uneven strokes that skip the saw's furrows."""

import cv2
import numpy as np

CHALK = {
    "white": (238, 236, 230),
    "yellow": (236, 214, 96),
    "blue": (110, 150, 208),
    "red": (206, 92, 92),
}
CRAYON = {
    "black": (38, 36, 36),
    "blue": (36, 62, 140),
    "red": (170, 40, 38),
    "yellow": (232, 196, 40),
}


def draw_stroke(pixels, points_mm, mm_per_px, *, colour, width_mm=7.0, cover=0.75, seed=0):
    """Return the picture (H, W, 3) uint8 with one stroke through points (mm of the picture)."""
    rng = np.random.default_rng(seed)
    at = np.round(np.asarray(points_mm) / mm_per_px * 16).astype(np.int32)
    canvas = np.zeros(pixels.shape[:2], np.uint8)
    cv2.polylines(canvas, [at], False, 255, max(1, round(width_mm / mm_per_px)), cv2.LINE_AA, 4)
    soft = cv2.GaussianBlur(canvas.astype(np.float32) / 255, (0, 0), 0.6)
    along = rng.standard_normal(canvas.shape).astype(np.float32)
    skips = cv2.GaussianBlur(along, (0, 0), 3.0, sigmaY=1.0)
    grit = cv2.GaussianBlur(along[::-1], (0, 0), 0.8)
    uneven = cover + 0.16 * skips / skips.std() + 0.12 * grit / grit.std()
    share = (soft * np.clip(uneven, 0.05, 0.98))[..., None]
    drawn = pixels + share * (np.asarray(colour, np.float32) - pixels)
    return np.clip(drawn, 0, 255).astype(np.uint8)


def loop(x, y, wide, high, seed=0, open_deg=15.0):
    """Return the points of a hand's loop round (x, y), mm: a wobbling oval that overshoots."""
    rng = np.random.default_rng(seed)
    turn = np.radians(np.linspace(0, 360 + rng.uniform(-open_deg, 30), 60) + rng.uniform(0, 360))
    wobble = 1 + 0.06 * np.sin(2 * turn + rng.uniform(0, 6)) + 0.03 * np.sin(3 * turn)
    drift = np.linspace(0, rng.uniform(-0.05, 0.08), 60)
    return np.column_stack(
        [
            x + wide / 2 * np.cos(turn) * (wobble + drift),
            y + high / 2 * np.sin(turn) * (wobble + drift),
        ]
    )


def cross(x, y, wide, high, seed=0):
    """Return the two strokes of an X, mm."""
    rng = np.random.default_rng(seed)
    ramp = np.linspace(-0.5, 0.5, 20)
    return [
        np.column_stack(
            [x + wide * ramp, y + sign * high * ramp + rng.normal(0, 1.0, 1) + 4 * ramp**2]
        )
        for sign in (1, -1)
    ]


def across(x, low, high, seed=0):
    """Return a line across the board from y = low to high, mm."""
    rng = np.random.default_rng(seed)
    y = np.linspace(low, high, 20)
    return np.column_stack([x + rng.uniform(-0.06, 0.06) * (y - low) + rng.normal(0, 0.4, 20), y])
