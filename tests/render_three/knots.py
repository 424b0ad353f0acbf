"""Knots: what kinds there are, how the grain swells round them, and how they are painted."""

from dataclasses import dataclass

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.fields import line, octaves, ramp
from tests.render_three.grain import Swell

_KINDS = ("grown_in", "pale", "red", "loose", "hollow", "cracked", "pin", "spike")
_CHANCES = (0.24, 0.10, 0.10, 0.16, 0.07, 0.12, 0.15, 0.06)
_UNSOUND = ("loose", "hollow")
RING_POINTS = 48


@dataclass(frozen=True)
class Knot:
    """One knot, mm of the canvas; ``rim``: its radius in 48 directions, as a share."""

    kind: str
    x: float
    y: float
    long: float
    wide: float
    angle: float
    rim: np.ndarray
    sound: bool

    @property
    def swell(self) -> Swell:
        strength = 0.5 if self.kind == "spike" else 1.0
        return Swell(self.x, self.y, 2.0 * self.long, 1.5 * self.wide, strength)

    @property
    def polygon(self) -> np.ndarray:
        """Outline (48, 2), px of the canvas."""
        turn = np.linspace(0, 2 * np.pi, RING_POINTS, endpoint=False)
        x, y = self.long * self.rim * np.cos(turn), self.wide * self.rim * np.sin(turn)
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.column_stack([self.x + c * x - s * y, self.y + s * x + c * y]) / BASE_MM


def draw_knots(rng: np.random.Generator, box_mm: tuple[float, float, float, float]) -> list[Knot]:
    """Return the knots of a face that lies in ``box_mm`` (x0, y0, x1, y1) of the canvas."""
    x0, y0, x1, y1 = box_mm
    count = 0 if rng.random() < 0.15 else int(rng.integers(1, 8))
    knots: list[Knot] = []
    for _ in range(count):
        kind = str(rng.choice(_KINDS, p=_CHANCES))
        size = float(np.exp(rng.normal(np.log(7.5), 0.5)))
        size = float(np.clip(size, 2.5, 30))
        long = size * rng.uniform(0.9, 1.7)
        angle = rng.normal(0, 0.3)
        if kind == "pin":
            size = rng.uniform(1.0, 3.0)
            long = size * rng.uniform(0.9, 1.4)
        elif kind == "spike":
            size, long = rng.uniform(2.5, 8), rng.uniform(18, 55)
            angle = rng.normal(np.pi / 2, 0.5)
        turn = np.linspace(0, 2 * np.pi, RING_POINTS, endpoint=False)
        rim = 1 + sum(
            rng.normal(0, 0.07 / n) * np.cos(n * turn + rng.uniform(0, 6)) for n in range(2, 7)
        )
        if kind == "spike":  # wide at one end, narrow at the heart's
            rim = rim * (1 + 0.3 * np.cos(turn))
        x, y = rng.uniform(x0 + 6, x1 - 6), rng.uniform(y0 + 3, y1 - 3)
        if any(np.hypot(k.x - x, k.y - y) < k.long + long + 4 for k in knots):
            continue
        sound = kind not in _UNSOUND and not (kind == "cracked" and rng.random() < 0.4)
        knots.append(Knot(kind, x, y, long, size, float(angle), rim, sound))
    return knots


def paint_knot(rng: np.random.Generator, canvas: np.ndarray, knot: Knot) -> None:
    """Paint a knot into the canvas (H, W, 3) float32 of linear light, in place."""
    reach = 2.6 * max(knot.long, knot.wide) / BASE_MM
    cx, cy = knot.x / BASE_MM, knot.y / BASE_MM
    h, w = canvas.shape[:2]
    left, right = max(int(cx - reach), 0), min(int(cx + reach) + 1, w)
    top, bottom = max(int(cy - reach), 0), min(int(cy + reach) + 1, h)
    if right - left < 3 or bottom - top < 3:
        return
    X, Y = np.meshgrid(
        np.arange(left, right, dtype=np.float32), np.arange(top, bottom, dtype=np.float32)
    )
    dx, dy = (X - cx) * BASE_MM, (Y - cy) * BASE_MM
    c, s = np.float32(np.cos(knot.angle)), np.float32(np.sin(knot.angle))
    px, py = (c * dx + s * dy) / knot.long, (-s * dx + c * dy) / knot.wide
    far = np.hypot(px, py)
    turn = np.mod(np.arctan2(py, px), 2 * np.pi) / (2 * np.pi) * RING_POINTS
    rim = np.interp(turn, np.arange(RING_POINTS + 1), np.append(knot.rim, knot.rim[0]))
    far = (far / rim).astype(np.float32)
    size = np.sqrt(knot.long * knot.wide)
    patch = canvas[top:bottom, left:right]
    noise = octaves(rng, patch.shape[:2], max(size, 4), max(size, 4), 3)
    wood = np.median(patch.reshape(-1, 3), axis=0)
    _round_knot(rng, patch, far, noise)
    inner = _inner(rng, knot, far, px, py, noise, wood)
    soft = max(0.25 / size, 0.02) * (2.5 if knot.kind in ("grown_in", "pale", "red") else 1.0)
    cover = 1 - ramp(far + noise * np.float32(0.012), 1 - soft, 1 + soft)
    patch += (inner - patch) * cover[..., None]
    if knot.kind in ("loose", "cracked", "hollow") or rng.random() < 0.5:
        _black_rim(rng, patch, far, turn, size, knot.kind == "loose")


def _round_knot(rng, patch, far, noise) -> None:
    """Darken, redden or bleach the turned grain round the knot."""
    wide = rng.uniform(0.15, 0.6)
    near = np.exp(-np.maximum(far - 1, 0) / wide)
    change = np.float32(rng.normal(-0.15, 0.14))
    tint = np.array([1.0, 1.15, 1.4], np.float32)
    factor = 1 + (near * change * (1 + 0.25 * noise))[..., None] * tint
    patch *= np.clip(factor, 0.35, 1.5)


def _inner(rng, knot, far, px, py, noise, wood) -> np.ndarray:
    dark = {
        "grown_in": (0.35, 0.75),
        "pale": (0.6, 0.95),
        "red": (0.4, 0.75),
        "loose": (0.12, 0.5),
        "hollow": (0.02, 0.08),
        "cracked": (0.2, 0.6),
        "pin": (0.08, 0.6),
        "spike": (0.3, 0.8),
    }[knot.kind]
    level = rng.uniform(*dark)
    tint = np.array([1.0, 0.78, 0.58]) ** rng.uniform(0.2, 1.0)
    if knot.kind == "red":
        tint = np.array([1.25, 0.66, 0.42])
    colour = (wood * level * tint).astype(np.float32)
    if knot.kind == "hollow":
        shade = 0.5 + 0.9 * ramp(far + 0.25 * py, 0.5, 1.05) + 0.3 * noise
        return colour * np.maximum(shade, 0.1)[..., None]
    off = rng.normal(0, 0.15, 2).astype(np.float32)
    rings = np.hypot(px - off[0], py - off[1]) + noise * np.float32(0.05)
    many = rng.uniform(2, 9) * np.sqrt(knot.wide / 7)
    wave = np.sin(rings * np.float32(2 * np.pi * many))
    shade = 1 + wave * np.float32(rng.uniform(0.05, 0.22)) + noise * np.float32(0.1)
    # Darker towards the heart, or towards the rim.
    shade *= 1 + np.float32(rng.normal(0, 0.3)) * (far - 0.5)
    shade *= 1 - np.float32(rng.uniform(0, 0.6)) * np.exp(-((rings / 0.16) ** 2))
    return colour * np.clip(shade, 0.15, 1.8)[..., None]


def _black_rim(rng, patch, far, turn, size, is_loose: bool) -> None:
    """Lay a line of bark round the knot: whole and thick round a loose one, thin and open else."""
    mm = rng.uniform(0.5, 1.8) if is_loose else rng.uniform(0.15, 0.7)
    share = np.abs(line(rng, RING_POINTS + 1, 4)) * 0.6 + 0.5
    share[-1] = share[0]
    if not is_loose:
        share *= ramp(line(rng, RING_POINTS + 1, 7), -0.5, 0.8)
    thick = np.interp(turn, np.arange(RING_POINTS + 1), share) * mm / size
    cover = 1 - ramp(np.abs(far - 1) - thick / 2, -0.3 / size, 0.3 / size)
    cover *= rng.uniform(0.6, 1.0)
    bark = np.array([0.02, 0.014, 0.01], np.float32) * rng.uniform(0.5, 3)
    patch += (bark - patch) * cover.astype(np.float32)[..., None]
