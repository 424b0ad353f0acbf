"""Lays courses onto the canvas: the gap, its lips, the wood beside it."""

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.courses import Course
from tests.render_three.cracks import Crack, Lips
from tests.render_three.fields import line

_RUN = 240  # columns at a time, so that a slanting course needs no tall strip


def paint_crack(rng: np.random.Generator, canvas: np.ndarray, crack: Crack) -> None:
    """Paint a crack into the canvas (H, W, 3) float32 of linear light, in place."""
    for piece in crack.pieces:
        paint_course(rng, canvas, piece, crack.lips)


def paint_course(rng: np.random.Generator, canvas: np.ndarray, course: Course, lips: Lips) -> None:
    """Paint one piece."""
    ground = canvas.transpose(1, 0, 2) if course.upright else canvas
    reach = int(np.ceil(2.5 * max(lips.halo_mm if lips.halo else 0, lips.lit_mm, 1.0) / BASE_MM))
    mottle = np.exp(line(rng, len(course.upper), 3) * 0.25).astype(np.float32)
    for start in range(0, len(course.upper), _RUN):
        part = slice(start, min(start + _RUN, len(course.upper)))
        _paint_run(ground, course, part, lips, reach, mottle[part])


def _paint_run(ground, course, part, lips, reach, mottle) -> None:
    x0 = course.first + part.start
    x1 = course.first + part.stop
    left, right = max(x0, 0), min(x1, ground.shape[1])
    if right <= left:
        return
    cut = slice(part.start + left - x0, part.stop - (x1 - right))
    upper = course.upper[cut].astype(np.float32)
    lower = course.lower[cut].astype(np.float32)
    shade = course.shade[cut].astype(np.float32)
    mottle = mottle[left - x0 : len(mottle) - (x1 - right)]
    top = max(int(upper.min()) - reach, 0)
    bottom = min(int(lower.max()) + reach + 2, ground.shape[0])
    if bottom <= top:
        return
    rows = np.arange(top, bottom, dtype=np.float32)[:, None]
    strip = ground[top:bottom, left:right]
    cover = np.clip(np.minimum(rows + 0.5, lower) - np.maximum(rows - 0.5, upper), 0, 1)
    # A thin crack throws a weaker shade on its lips.
    strong = np.minimum((lower - upper) * np.float32(BASE_MM / 0.4), 1.0)
    above, below = np.maximum(upper - rows, 0), np.maximum(rows - lower, 0)
    outside = 1 - cover
    gain = np.ones_like(cover)
    if lips.lit:
        near = below if lips.lit > 0 else above
        is_side = (rows > lower) if lips.lit > 0 else (rows < upper)
        gain += abs(lips.lit) * strong * is_side * np.exp(-near / (lips.lit_mm / BASE_MM))
    if lips.raised:
        wide = 1.2 / BASE_MM
        gain += (
            lips.raised
            * strong
            * ((rows > lower) * np.exp(-below / wide) - (rows < upper) * np.exp(-above / wide))
        )
    if lips.halo:
        gain -= lips.halo * strong * np.exp(-(above + below) / (lips.halo_mm / BASE_MM))
    strip *= (1 + (gain - 1) * outside)[..., None]
    inside = _inside(strip, shade * mottle, lips, rows, upper, lower)
    strip += (inside - strip) * cover[..., None]


def _inside(strip, shade, lips, rows, upper, lower):
    """Return what shows in the gap: dark wood, dirt, and a wall that catches light."""
    brown = np.array([1.0, 1 - 0.28 * lips.depth_tint, 1 - 0.5 * lips.depth_tint], np.float32)
    deep = np.broadcast_to(shade, strip.shape[:2])
    if lips.lit:
        # The far wall of a wide crack catches the slanting light.
        place = np.clip((rows - upper) / np.maximum(lower - upper, 0.5), 0, 1)
        wall = place if lips.lit > 0 else 1 - place
        deep = deep * (1 + 1.5 * abs(lips.lit) * wall)
    inside = strip * deep[..., None] * brown
    if lips.fill is not None:
        filled = (
            lips.fill * np.clip(shade / max(float(np.median(shade)), 1e-3), 0.5, 1.3)[None, :, None]
        )
        inside = 0.25 * inside + 0.75 * filled
    return inside
