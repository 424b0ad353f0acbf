"""The outline of the face and the other ground round it."""

import cv2
import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.fields import line, linear, octaves, smooth, streaks


def draw_outline(
    rng: np.random.Generator, size_mm: tuple[float, float], margins_mm: tuple[float, float]
) -> np.ndarray:
    """Return the face's outline (N, 2) px: sawn edges that waver, ends nearly square."""
    long, wide = size_mm
    left, top = margins_mm
    s = np.linspace(0, 1, 120)
    rough = rng.uniform(0.05, 0.6)
    crook = rng.normal(0, 1.2) * np.sin(np.pi * s)
    taper = rng.normal(0, 1.5)
    upper = top + crook + rough * line(rng, 120, rng.uniform(4, 30))
    lower = top + wide + crook + taper * (s - 0.5) + rough * line(rng, 120, rng.uniform(4, 30))
    t = np.linspace(0, 1, 24)[1:-1]
    skew = rng.normal(0, 0.01, 2) * wide
    ragged = rng.uniform(0.02, 0.4)
    right_x = left + long + skew[1] * (t - 0.5) + ragged * line(rng, len(t), 2)
    left_x = left + skew[0] * (t - 0.5) + ragged * line(rng, len(t), 2)
    ring = np.concatenate(
        [
            np.column_stack([left + long * s, upper]),
            np.column_stack([right_x, upper[-1] + t * (lower[-1] - upper[-1])]),
            np.column_stack([left + long * s, lower])[::-1],
            np.column_stack([left_x, upper[0] + t * (lower[0] - upper[0])])[::-1],
        ]
    )
    return ring / BASE_MM


def _floor(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Return other ground, (H, W, 3) float32 of linear light."""
    kind = rng.integers(0, 6)
    if kind == 0:  # concrete
        colour, noise = (150, 148, 142), 0.5 * octaves(rng, shape, 120, 120, 5)
    elif kind == 1:  # asphalt, gravel
        colour, noise = (92, 92, 92), 1.6 * octaves(rng, shape, 14, 14, 3)
    elif kind == 2:  # grass
        colour = (84, 100, 48)
        noise = 1.8 * octaves(rng, shape, 18, 40, 4)
    elif kind == 3:  # other boards, a bench
        colour, noise = (
            (140, 108, 78),
            0.6 * streaks(rng, shape, 200, 6) + 0.3 * streaks(rng, shape, 60, 2),
        )
    elif kind == 4:  # cloth, card
        colour, noise = (186, 180, 170), 0.15 * smooth(rng, shape, 3, 3)
    else:  # a dark belt
        colour, noise = (28, 34, 36), 0.5 * octaves(rng, shape, 60, 20, 3)
    tone = np.clip(np.asarray(colour) * rng.uniform(0.55, 1.35) + rng.normal(0, 8, 3), 6, 240)
    base = linear((float(tone[0]), float(tone[1]), float(tone[2])))
    return base * np.clip(1 + 0.25 * noise, 0.15, 2.5)[..., None]


def _paint_ends(rng: np.random.Generator, canvas: np.ndarray, outline: np.ndarray) -> None:
    """Let the paint or wax of an end run over onto the face."""
    h, w = canvas.shape[:2]
    choices = ((150, 40, 36), (60, 110, 70), (225, 222, 210), (50, 70, 130), (190, 170, 110))
    r, g, b = choices[int(rng.integers(0, len(choices)))]
    colour = linear((r, g, b))
    at_left = rng.random() < 0.5
    edge = float(outline[:, 0].min() if at_left else outline[:, 0].max())
    reach = rng.uniform(3, 35) / BASE_MM
    x = np.abs(np.arange(w, dtype=np.float32)[None, :] - np.float32(edge))
    border = reach * (1 + 0.15 * line(rng, h, 90) + 0.05 * line(rng, h, 8)).astype(np.float32)
    cover = np.clip((border[:, None] - x) / 4, 0, 1) * np.float32(rng.uniform(0.3, 0.95))
    cover *= np.clip(0.85 + 0.3 * octaves(rng, (h, w), 40, 12, 3), 0, 1)
    shade = canvas.mean(axis=2, keepdims=True)
    shade /= np.maximum(cv2.blur(shade, (41, 41))[..., None], 1e-3)
    canvas += (colour * np.minimum(shade, 1.5) - canvas) * cover[..., None]


def lay_on_ground(rng: np.random.Generator, canvas: np.ndarray, outline: np.ndarray) -> None:
    """Put ground outside of the outline, with the shadow the board throws; in place."""
    shape = canvas.shape[:2]
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(outline * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    inside = mask.astype(np.float32) / 255
    floor = _floor(rng, shape)
    off = rng.uniform(-14, 14, 2) / BASE_MM
    move = np.array([[1, 0, off[0]], [0, 1, off[1]]], np.float32)
    thrown = cv2.warpAffine(inside, move, shape[::-1])
    small = cv2.resize(thrown, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), rng.uniform(0.5, 6))
    thrown = cv2.resize(small, shape[::-1], interpolation=cv2.INTER_LINEAR)
    floor *= (1 - np.float32(rng.uniform(0.2, 0.8)) * thrown)[..., None]
    if rng.random() < 0.12:
        _paint_ends(rng, canvas, outline)
    # The arris is worn: the last millimetre is lighter or darker.
    near = cv2.distanceTransform((mask > 127).astype(np.uint8), cv2.DIST_L2, 3) * BASE_MM
    worn = np.float32(rng.normal(0, 0.12)) * np.exp(-near / np.float32(rng.uniform(0.3, 1.5)))
    canvas *= (1 + worn)[..., None]
    canvas += (floor - canvas) * (1 - inside)[..., None]
