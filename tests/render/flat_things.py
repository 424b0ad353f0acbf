"""Things that lie flat: a handsaw, a square, a sheet of paper, a rag, a glove. Outline and colour.

Each in its own coordinates: u along it, v across, mm; ``a`` and ``b`` its half extents.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from tests.render.noise import F32, noise_2d, noises_2d, smoothstep
from tests.render.wood import linear

_CLOTH = ((128, 84, 76), (70, 86, 112), (176, 172, 164), (104, 106, 106), (150, 136, 104))
_LEATHER = ((190, 154, 96), (168, 120, 70), (120, 120, 118), (206, 190, 150))


class Flat(NamedTuple):
    """How one kind looks: distance outside its outline, albedo, slopes of its relief."""

    outside: Callable[[F32, F32, float, float, int], F32]
    colour: Callable[[F32, F32, float, float, int], F32]
    relief: Callable[[F32, F32, int], tuple[F32, F32]]


def _level(u: F32, v: F32, seed: int) -> tuple[F32, F32]:
    return 0 * u, 0 * v


def _capsule(u: F32, v: F32, p: tuple[float, float], q: tuple[float, float], r: float) -> F32:
    dx, dy = np.float32(q[0] - p[0]), np.float32(q[1] - p[1])
    t = np.clip(((u - p[0]) * dx + (v - p[1]) * dy) / (dx * dx + dy * dy), 0, 1)
    return np.hypot(u - p[0] - t * dx, v - p[1] - t * dy) - np.float32(r)


def _saw_outside(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    """Return the distance outside a blade that narrows towards its tip, and its handle."""
    share = np.clip((u + a) / (2 * a), 0, 1)
    low, high = b * 0.62, b * (0.62 - 1.02 * share)  # toothed edge straight, back sloping
    tooth = 1.1 * np.abs(2 * (u / 3.6 - np.floor(u / 3.6)) - 1)
    blade = np.maximum(np.maximum(v - low + tooth, -v - high), np.maximum(-0.55 * a - u, u - a))
    grip = _capsule(u, v, (-0.86 * a, -0.45 * b), (-0.80 * a, 0.55 * b), 0.30 * b)
    horn = _capsule(u, v, (-0.84 * a, -0.60 * b), (-0.56 * a, -0.42 * b), 0.20 * b)
    foot = _capsule(u, v, (-0.80 * a, 0.62 * b), (-0.56 * a, 0.36 * b), 0.24 * b)
    cheek = _capsule(u, v, (-0.60 * a, -0.36 * b), (-0.58 * a, 0.34 * b), 0.26 * b)
    handle = np.minimum(np.minimum(grip, horn), np.minimum(foot, cheek))
    return np.minimum(blade, handle).astype(np.float32)


def _saw_colour(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    grain = noise_2d(seed, u * 0.04, v, 3.0)
    brushed = noises_2d(seed + 1, u * 0.05, v, 5.0)
    rust = smoothstep(
        0.6, 2.0, noise_2d(seed + 2, u, v, 60.0) + 0.5 * noise_2d(seed + 3, u, v, 9.0)
    )
    sheen = 0.5 + 0.5 * np.sin(u / (0.55 * a) + seed)
    steel = (
        np.float32([0.26, 0.27, 0.285])
        * np.exp(0.10 * brushed[:, 0] + 0.5 * (sheen - 0.5))[:, None]
    )
    steel = steel + (np.float32([0.10, 0.062, 0.04]) - steel) * (0.55 * rust)[:, None]
    wood = linear(((188, 138, 84), (152, 100, 62), (44, 44, 46))[seed % 3])
    wood = wood * np.exp(0.16 * grain)[:, None]
    for su, sv in ((-0.60 * a, -0.28 * b), (-0.57 * a, 0.0), (-0.60 * a, 0.26 * b)):
        screw = smoothstep(6.0, 5.0, np.hypot(u - su, v - sv))
        wood = wood + (np.float32([0.40, 0.34, 0.20]) - wood) * screw[:, None]
    handle = smoothstep(1.0, -1.0, u + 0.49 * a + 6 * np.cos(v / (0.4 * b)))[:, None]
    return steel + (wood - steel) * handle


def _square_outside(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    """Return the distance outside a triangle with a fence along one side, a slot cut out."""
    body = np.maximum(np.maximum(-u - a, -v - a), (u + v) * np.float32(0.7071))
    slot = np.maximum(np.abs(u + 0.62 * a) - 5, np.abs(v + 0.35 * a) - 0.32 * a)
    return np.maximum(body, -slot).astype(np.float32)


def _square_colour(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    paint = linear(((176, 178, 180), (196, 60, 44), (216, 168, 40), (60, 100, 160))[seed % 4])
    rub = noises_2d(seed, u, v, 7.0)
    colour = paint * np.exp(0.06 * rub[:, 0] + 0.25 * np.sin((u - v) / a + seed))[:, None]
    edge = np.minimum(v + a, -(u + v) * np.float32(0.7071))
    tick = np.abs(u / 6.35 - np.round(u / 6.35)) < 0.09
    ink = (tick & (edge < np.where(np.round(u / 6.35) % 4 == 0, 9, 5)) & (edge > 0.8))[:, None]
    colour = np.where(ink, 0.25 * colour, colour)
    fence = smoothstep(1, -1, u + a - 12)[:, None]
    colour = colour * (1 + 0.25 * fence)
    worn = smoothstep(1.2, 2.2, rub[:, 1] + 0.8 * smoothstep(6, 0, edge))[:, None]
    return np.asarray(colour + (np.float32([0.36, 0.36, 0.37]) - colour) * 0.7 * worn)


def _paper_outside(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    wave = 1.2 * np.sin(u / 37.0 + seed) + 0.9 * np.sin(v / 29.0)
    corner = np.maximum(0, (u + v) * np.float32(0.7071) - 0.92 * np.hypot(a, b) * 0.98)
    return (np.maximum(np.abs(u) - a, np.abs(v) - b) + wave + corner).astype(np.float32)


def _paper_colour(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    ruled = seed % 2 == 0
    sheet = np.float32([0.60, 0.60, 0.58]) if seed % 3 else np.float32([0.62, 0.55, 0.30])
    crease = np.exp(-((u - 2 * np.sin(v / 40)) ** 2) / 3.0) + np.exp(-(v**2) / 3.0)
    row = (v + b) / 9.0
    word = noise_2d(seed, u * 0.6, np.floor(row) * 37, 6.0) > -0.3
    wide = noise_2d(seed + 2, 0 * u, np.floor(row) * 53, 5.0)
    inside = (u > -0.8 * a) & (u < (0.1 + 0.4 * wide) * a) & (np.abs(v) < 0.8 * b)
    stroke = (
        np.abs(noise_2d(seed + 1, u, np.floor(row) * 91 + 2.2 * (row - np.floor(row)), 2.6)) < 0.35
    )
    body = np.abs(row - np.floor(row) - 0.5) < 0.22
    ink = (word & inside & stroke & body).astype(np.float32)
    colour = sheet * (1 - 0.12 * crease)[:, None] * (1 - 0.75 * ink)[:, None]
    if ruled:
        line = np.exp(-(((row - np.round(row)) * 9.0) ** 2) / 0.3)
        colour = colour * (1 - line[:, None] * np.float32([0.22, 0.14, 0.05]))
    stain = smoothstep(1.0, 2.2, noise_2d(seed + 3, u, v, 40.0))
    return np.asarray(colour * (1 - 0.3 * stain)[:, None])


def _paper_relief(u: F32, v: F32, seed: int) -> tuple[F32, F32]:
    bent = noises_2d(seed + 5, u, v, 90.0)
    fold = 0.18 * np.tanh(u / 6) * np.exp(-np.abs(u) / 50)
    return 0.09 * bent[:, 0] + fold, 0.09 * bent[:, 1]


def _rag_outside(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    turn = np.arctan2(v / b, u / a)
    wave = 0.05 * np.sin(3 * turn + seed) + 0.045 * np.sin(5 * turn + 2.1 * seed)
    wave = wave + 0.03 * np.sin(11 * turn + seed * 0.7) + 0.02 * np.sin(17 * turn + seed)
    square = (np.abs(u / a) ** 3.2 + np.abs(v / b) ** 3.2) ** np.float32(1 / 3.2)
    return ((square - 0.86 - wave) * min(a, b)).astype(np.float32)


def _rag_folds(u: F32, v: F32, seed: int) -> tuple[F32, F32, F32]:
    """Return slopes of crumpled cloth, and how deep each point lies in a fold (0..1)."""
    slow = noises_2d(seed, u, v, 70.0)
    bu, bv = u + 16 * slow[:, 0], v + 16 * slow[:, 1]
    ridge = noises_2d(seed + 1, bu * 0.55, bv, 34.0, 0.6)
    fine = noises_2d(seed + 2, bu, bv * 0.5, 15.0, 2.0)
    hx = 0.30 * ridge[:, 0] + 0.2 * fine[:, 0]
    hy = 0.30 * ridge[:, 1] + 0.2 * fine[:, 1]
    return hx, hy, smoothstep(0.2, 1.8, np.abs(ridge[:, 2]) + 0.4 * fine[:, 2])


def _rag_colour(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    deep = _rag_folds(u, v, seed)[2]
    cloth = (
        linear(_CLOTH[seed % len(_CLOTH)]) * np.exp(0.08 * noise_2d(seed + 7, u, v, 3.0))[:, None]
    )
    grease = smoothstep(0.4, 1.8, noise_2d(seed + 8, u, v, 45.0))
    return np.asarray(cloth * (1 - 0.45 * deep)[:, None] * (1 - 0.5 * grease)[:, None])


def _rag_relief(u: F32, v: F32, seed: int) -> tuple[F32, F32]:
    hx, hy, _ = _rag_folds(u, v, seed)
    return hx, hy


def _glove_outside(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    palm = np.maximum(np.abs(u + 0.25 * a) - 0.38 * a, np.abs(v) - 0.62 * b - 0.05 * u) - 4
    best = np.maximum(palm, -30)
    cuff = np.maximum(np.abs(u + 0.78 * a) - 0.2 * a, np.abs(v) - 0.7 * b)
    best = np.minimum(best, cuff)
    for k, (y0, y1, long) in enumerate(
        ((-0.50, -0.66, 0.78), (-0.18, -0.20, 0.98), (0.16, 0.22, 0.92), (0.46, 0.66, 0.70))
    ):
        bend = 0.05 * a * np.sin(seed + 2.3 * k)
        tip = (long * a, y1 * b + bend)
        best = np.minimum(best, _capsule(u, v, (0.0, y0 * b), tip, 0.165 * b))
    thumb = _capsule(u, v, (-0.35 * a, 0.50 * b), (0.12 * a, 1.12 * b), 0.19 * b)
    return np.minimum(best, thumb).astype(np.float32)


def _glove_colour(u: F32, v: F32, a: float, b: float, seed: int) -> F32:
    skin = linear(_LEATHER[seed % len(_LEATHER)])
    cloth = linear(_CLOTH[(seed // 4) % len(_CLOTH)])
    cuff = smoothstep(1.5, -1.5, u + 0.58 * a)[:, None]
    rough = noises_2d(seed, u, v, 26.0)
    weave = noise_2d(seed + 1, u, v, 2.2)
    colour = skin + (cloth - skin) * cuff
    colour = colour * np.exp(0.10 * rough[:, 0] + 0.05 * weave)[:, None]
    deep = smoothstep(-6.0, 0.0, _glove_outside(u, v, a, b, seed))
    dirt = smoothstep(0.3, 1.8, rough[:, 1])
    return np.asarray(colour * (1 - 0.35 * deep)[:, None] * (1 - 0.4 * dirt)[:, None])


def _glove_relief(u: F32, v: F32, seed: int) -> tuple[F32, F32]:
    fold = noises_2d(seed + 3, u * 0.7, v, 22.0)
    return 0.25 * fold[:, 0], 0.25 * fold[:, 1]


FLAT = {
    "saw": Flat(_saw_outside, _saw_colour, _level),
    "square": Flat(_square_outside, _square_colour, _level),
    "paper": Flat(_paper_outside, _paper_colour, _paper_relief),
    "rag": Flat(_rag_outside, _rag_colour, _rag_relief),
    "glove": Flat(_glove_outside, _glove_colour, _glove_relief),
}
