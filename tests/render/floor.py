"""Floors: concrete, plywood, grass and asphalt, as colour and relief over the floor's plane."""

from functools import lru_cache
from typing import Protocol

import cv2
import numpy as np

from tests.render.grass import Grass
from tests.render.history import History, history_of
from tests.render.noise import F32, Waves, lookup, noise_2d, smoothstep, wrapped
from tests.render.wood import linear


class Floor(Protocol):
    """A floor's linear albedo (N, 3) and slopes at points, given the footprint of a pixel."""

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]: ...


def _seen(size_mm: float, fp: F32) -> F32:
    """Return how much of a detail this size survives in a pixel this large (0..1)."""
    return np.clip(size_mm / (2.0 * fp) - 0.35, 0, 1)


class _Crackle:
    """A few wandering hairline cracks: zero lines of a slow field, kept where another allows."""

    def __init__(self, rng: np.random.Generator, spacing: float) -> None:
        self._seed = int(rng.integers(1 << 20))
        self._spacing = spacing

    def at(self, x: F32, y: F32, wide: float, fp: F32) -> F32:
        field = noise_2d(self._seed, x, y, self._spacing, 0.6)
        wander = 0.05 * noise_2d(self._seed + 1, x, y, 30.0) + 0.02 * noise_2d(
            self._seed + 2, x, y, 7.0
        )
        # The slope of the field is about 2.5 / spacing, so this is a distance in mm.
        off = np.abs(field - 0.8 + wander) * np.float32(self._spacing / 2.5)
        allowed = smoothstep(0.3, 1.0, noise_2d(self._seed + 3, x, y, self._spacing * 1.3, 1.1))
        w = np.maximum(wide, fp)
        return np.clip(wide / w, 0, 1) * np.exp(-((off / (0.7 * w)) ** 2)) * allowed


class Concrete:
    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng((seed, 401))
        self._s = int(rng.integers(1 << 20))
        self._base = linear(tuple(np.float32([150, 146, 138]) * rng.uniform(0.88, 1.12)))  # type: ignore[arg-type]
        self._cracks = _Crackle(rng, float(rng.uniform(500, 900)))
        self._joint = rng.uniform(-900, 1800), rng.normal(0, 0.03)
        self._has_joint = rng.random() < 0.5
        self._oil = [
            (rng.uniform(-800, 3000), rng.uniform(-900, 1100), rng.uniform(30, 160))
            for _ in range(4)
        ]

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        s = self._s
        big = noise_2d(s, x, y, 700.0, 0.3) + 0.7 * noise_2d(s + 1, x, y, 240.0, 1.0)
        mid = noise_2d(s + 2, x, y, 75.0, 0.2) + 0.7 * noise_2d(s + 3, x, y, 24.0, 0.9)
        sand = noise_2d(s + 4, x, y, 2.2, 0.4) * _seen(2.2, fp)
        sand = sand + 0.9 * noise_2d(s + 5, x, y, 5.5, 1.3) * _seen(5.5, fp)
        # Mottled as cement sets: fields bent by other fields, so that borders are sharp here and
        # soft there.
        bx, by = x + 55 * big, y + 45 * noise_2d(s + 31, x, y, 160.0, 0.5)
        cured = noise_2d(s + 32, bx, by, 130.0, 0.9)
        veins = np.abs(noise_2d(s + 33, bx, by, 95.0, 0.2)) - 0.7
        mid = 0.45 * mid + 0.5 * smoothstep(-0.4, 0.3, cured) - 0.35 * smoothstep(0.0, -0.65, veins)
        light = 0.065 * big + 0.07 * mid + 0.065 * sand
        # Trowel sweeps: long arcs, a little lighter or darker.
        sweep = noise_2d(s + 6, x * 0.05 + y * 0.012, y, 16.0, 0.35) * noise_2d(s + 7, x, y, 420.0)
        light = light + 0.02 * sweep
        scuff = smoothstep(1.7, 2.6, noise_2d(s + 8, x * 0.04, y, 7.0, 0.9))
        light = (
            light
            + 0.10 * scuff
            - 0.16 * smoothstep(1.9, 2.7, noise_2d(s + 9, x, y * 0.05, 6.0, 0.4))
        )
        colour = self._base * np.exp(light)[..., None]
        warm = noise_2d(s + 10, x, y, 330.0, 0.7)
        colour = colour * np.exp(np.stack([0.02 * warm, 0.004 * warm, -0.02 * warm], axis=-1))
        # Pits and crumbs come in patches; hair scratches run every way.
        patch = smoothstep(-0.3, 1.6, noise_2d(s + 19, x, y, 210.0, 0.4))
        pits = smoothstep(1.9, 2.3, noise_2d(s + 11, x, y, 3.4, 0.1)) * _seen(3.4, fp)
        large = smoothstep(2.5, 2.8, noise_2d(s + 12, x, y, 11.0, 0.8)) * _seen(9, fp)
        pits = np.maximum(pits * (0.25 + 0.75 * patch), large * patch)
        dark = 0.42 * pits + 0.75 * self._cracks.at(x, y, 0.8, fp)
        for k, turn in enumerate((0.2, 0.95, 1.6, 2.35, 2.9)):
            c, t = np.float32(np.cos(turn)), np.float32(np.sin(turn))
            u, v = x * c + y * t, -x * t + y * c
            v = v + 4.0 * noise_2d(s + 21, x, y, 120.0)
            hair = smoothstep(2.0, 2.6, noise_2d(s + 22 + k, u * 0.035, v, 2.6))
            dark = dark + (0.16 if k % 2 else -0.10) * hair * _seen(2.6, fp)
        blotch = noise_2d(s + 28, x, y, 60.0, 0.5) + 0.8 * noise_2d(s + 29, x, y, 18.0, 1.2)
        dark = dark + 0.07 * smoothstep(1.2, 2.4, blotch)
        for ox, oy, size in self._oil:
            d = np.hypot(x - ox, y - oy) / size + 0.25 * noise_2d(s + 13, x, y, 0.8 * size)
            dark = np.maximum(dark, 0.38 * smoothstep(1.1, 0.5, d))
        crumbs = patch * smoothstep(2.6, 2.8, noise_2d(s + 14, x, y, 5.0, 0.5)) * _seen(5, fp)
        colour = colour * (1 - np.clip(dark, -0.2, 0.9))[..., None] + 0.12 * crumbs[..., None]
        if self._has_joint:
            off = np.abs(
                y - self._joint[0] - self._joint[1] * x + 0.6 * noise_2d(s + 15, x, y, 25.0)
            )
            colour = colour * (1 - 0.72 * smoothstep(3.6, 1.6, off))[..., None]
        hx = 0.05 * noise_2d(s + 16, x, y, 3.0) * _seen(3, fp) + 0.02 * noise_2d(s + 17, x, y, 40.0)
        return colour, hx, 0.05 * noise_2d(s + 18, x, y, 3.0) * _seen(3, fp)


class Plywood:
    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng((seed, 409))
        self._s = int(rng.integers(1 << 20))
        self._turn = float(rng.choice([0.0, np.pi / 2]) + rng.normal(0, 0.02))
        self._origin = rng.uniform(200, 1000, 2)
        self._base = linear((190, 170, 142))
        self._dirt = float(rng.uniform(0.4, 1.0))
        self._flow = Waves(int(rng.integers(1 << 30)), (1400.0, 170.0, 1.0), 8, 0.8)
        self._flow2 = Waves(int(rng.integers(1 << 30)), (420.0, 60.0, 1.0), 7, 0.7)

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        s = self._s
        c, sn = np.float32(np.cos(self._turn)), np.float32(np.sin(self._turn))
        u, v = x * c + y * sn + self._origin[0], -x * sn + y * c + self._origin[1]
        u, v = u.astype(np.float32), v.astype(np.float32)
        iu, iv = np.floor(u / 2440), np.floor(v / 1220)
        sheet = iu * 7.31 + iv * 3.77
        # Rotary-cut veneer: wide loops, one slow field cut at many levels.
        field = 3.6 * self._flow.at(u, v, 0.0) + 0.9 * self._flow2.at(u, v, 0.0) + sheet * 2.9
        field = 0.62 * field + 0.006 * v + 0.04 * noise_2d(s + 1, u * 0.05, v, 9.0)
        part = field * 1.6 - np.floor(field * 1.6)
        ring = smoothstep(0.35, 0.95, part) * (1 - smoothstep(0.95, 1.0, part))
        grain = noise_2d(s + 2, u * 0.03, v, 2.0) * _seen(2, fp) + 0.8 * noise_2d(
            s + 3, u * 0.02, v, 9.0
        )
        light = -0.17 * ring + 0.05 * grain + 0.06 * noise_2d(s + 4, u, v, 300.0)
        light = light + 0.13 * np.sin(sheet * 12.0) - 0.08
        # Football plugs where the mill cut knots out, small tight knots where it did not.
        plug = self._plugs(u, v)
        light = light + (-0.10 - light + 0.05 * noise_2d(s + 21, u, v * 0.2, 3.0)) * plug
        knot = smoothstep(2.6, 3.0, noise_2d(s + 22, u * 0.7, v, 17.0))
        light = light - 0.75 * knot * (1 - plug)
        band = noise_2d(s + 23, u * 0.12, v, 130.0)
        colour = self._base * np.exp(light)[..., None]
        hue = 0.06 * np.sin(sheet * 5.0 + 1.0) + 0.05 * band
        colour = colour * np.exp(np.stack([0.4 * hue, -0.3 * hue, -1.1 * hue], axis=-1))
        colour = colour * np.exp(np.stack([0.04 * ring, -0.03 * ring, -0.10 * ring], axis=-1))
        dirt = smoothstep(
            0.3, 2.2, noise_2d(s + 5, u, v, 180.0) + 0.6 * noise_2d(s + 6, u, v, 45.0)
        )
        scuff = smoothstep(1.7, 2.4, noise_2d(s + 7, u * 0.2 + v * 0.1, v * 0.5 - u * 0.1, 6.0))
        foot = smoothstep(1.2, 2.2, noise_2d(s + 8, u, v, 90.0)) * (
            0.6 + 0.4 * noise_2d(s + 9, u, v, 5.0)
        )
        dark = self._dirt * (0.26 * dirt + 0.20 * scuff + 0.20 * foot)
        paint = smoothstep(
            2.5, 2.65, noise_2d(s + 10, u, v, 16.0) - 0.75 + 0.3 * noise_2d(s + 11, u, v, 4.0)
        )
        colour = colour * (1 - dark)[..., None]
        colour = colour + (np.float32([0.6, 0.6, 0.58]) - colour) * (0.8 * paint)[..., None]
        fu, fv = u - iu * 2440, v - iv * 1220
        seam = np.minimum(np.minimum(fu, 2440 - fu), np.minimum(fv, 1220 - fv))
        seam = seam + 0.4 * noise_2d(s + 12, u, v, 12.0)
        colour = colour * (1 - 0.8 * smoothstep(1.9, 0.7, seam))[..., None]
        # Screws every 200 mm along the sheets' edges, dents here and there.
        su, sv = (fu + 100) % 200 - 100, np.minimum(fv, 1220 - fv) - 14
        screw = np.hypot(su, sv)
        colour = colour * (1 - 0.65 * smoothstep(4.4, 3.6, screw))[..., None]
        dent = smoothstep(2.4, 2.8, noise_2d(s + 13, u, v, 10.0))
        colour = colour * (1 - 0.25 * dent)[..., None]
        hy = 0.03 * noise_2d(s + 14, u * 0.04, v, 2.5) * _seen(2.5, fp)
        return colour, hy * sn, hy * c

    def _plugs(self, u: F32, v: F32) -> F32:
        """Return where plugs are let in, at most one to a cell of the sheet."""
        cu, cv = np.floor(u / 430), np.floor(v / 305)
        dice = np.sin(cu * 12.9898 + cv * 78.233 + self._s) * 43758.5453
        dice = dice - np.floor(dice)
        du = u - (cu + 0.25 + 0.5 * dice) * 430
        dv = v - (cv + 0.3 + 0.4 * (dice * 7 % 1)) * 305
        inside = 1 - np.hypot(du / 48, 0) ** 2 - np.abs(dv) / 22
        return (smoothstep(-0.02, 0.03, inside) * (dice < 0.3)).astype(np.float32)


class Asphalt:
    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng((seed, 419))
        self._s = int(rng.integers(1 << 20))
        self._base = linear(tuple(np.float32([92, 92, 92]) * rng.uniform(0.85, 1.25)))  # type: ignore[arg-type]
        self._cracks = _Crackle(rng, float(rng.uniform(600, 1000)))
        self._bend = Waves(self._s, (210.0, 190.0, 1.0))

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        s = self._s
        stones = _stones(s % 7)
        side = stones.shape[0]
        bend = 6.0 * self._bend.at(x, y, 0.0)
        one = lookup(stones, wrapped((x + bend) * 2.5, side), wrapped((y - bend) * 2.5, side))
        t = np.float32(0.83)
        two = lookup(
            stones,
            wrapped((x * 0.55 - y * t) * 2.1 + 300, side),
            wrapped((x * t + y * 0.55 + bend) * 2.1, side),
        )
        pick = smoothstep(-0.2, 0.2, noise_2d(s + 2, x, y, 90.0))[..., None]
        both = one + (two - one) * pick
        see = _seen(5, fp)[..., None]
        both = both * see + np.float32([0.0, 0.0, 0.0]) * (1 - see)
        light = 0.055 * noise_2d(s + 3, x, y, 600.0) + 0.06 * noise_2d(s + 4, x, y, 110.0)
        light = light + 0.13 * noise_2d(s + 5, x, y, 3.0) * _seen(3, fp)
        light = (
            light
            + 0.10 * noise_2d(s + 11, x, y, 7.0)
            + 0.10 * noise_2d(s + 12, x, y, 1.7) * _seen(1.7, fp)
        )
        colour = self._base * np.exp(light[..., None] + 1.0 * both)
        worn = noise_2d(s + 6, x, y, 260.0)
        colour = colour * np.exp(np.stack([0.008 * worn, 0 * worn, -0.012 * worn], axis=-1))
        dark = 0.7 * self._cracks.at(x, y, 2.2, fp)
        colour = colour * (1 - dark)[..., None]
        grit = smoothstep(2.35, 2.6, noise_2d(s + 7, x, y, 9.0)) * _seen(8, fp)
        colour = colour + (np.float32([0.34, 0.31, 0.27]) - colour) * (0.8 * grit)[..., None]
        leaf = smoothstep(2.95, 3.05, noise_2d(s + 8, x, y * 1.7, 34.0, 0.7))
        colour = colour + (np.float32([0.12, 0.085, 0.05]) - colour) * (0.8 * leaf)[..., None]
        grain = 0.22 * _seen(4, fp)
        return colour, grain * noise_2d(s + 9, x, y, 4.0), grain * noise_2d(s + 10, x, y, 4.0)


@lru_cache(maxsize=8)
def _stones(seed: int, side: int = 1400) -> F32:
    """Return log brightness and tint (H, W, 3), 0.5 mm a pixel, of stones in tar; periodic."""
    rng = np.random.default_rng((seed, 431))
    picture = np.full((side, side, 3), -0.26, dtype=np.float32)
    n = 15000
    at = rng.uniform(0, side, (n, 2))
    size = np.clip(rng.lognormal(1.25, 0.5, n), 1.2, 13)
    tone = rng.normal(0.06, 0.24, n)
    for i in np.argsort(-size)[::-1][:n]:
        tint = rng.normal(0, 0.05)
        colour = (float(tone[i] + tint), float(tone[i]), float(tone[i] - tint))
        axes = (size[i], size[i] * rng.uniform(0.6, 1.0))
        turn, corners = rng.uniform(0, 6.28), int(rng.integers(5, 8))
        a = np.linspace(0, 2 * np.pi, corners, endpoint=False) + rng.normal(0, 0.2, corners)
        ring = np.column_stack([axes[0] * np.cos(a), axes[1] * np.sin(a)])
        c, s = np.cos(turn), np.sin(turn)
        ring = ring @ np.array([[c, -s], [s, c]]) + at[i]
        for ox in (0, side if at[i][0] < 15 else -side if at[i][0] > side - 15 else 0):
            for oy in (0, side if at[i][1] < 15 else -side if at[i][1] > side - 15 else 0):
                points = np.round((ring + np.array([ox, oy])) * 16).astype(np.int32)
                cv2.fillConvexPoly(picture, points, colour, cv2.LINE_AA, 4)
    picture.setflags(write=False)
    return picture


class Worn:
    """A floor with its history."""

    def __init__(self, new: Floor, history: History) -> None:
        self._new, self._history = new, history

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        colour, hx, hy = self._new.shade(x, y, fp)
        return self._history.lay(colour, x, y, fp), hx, hy


def floor_of(kind: str, seed: int) -> Floor:
    """Return the floor of a photograph."""
    new: Floor = {"concrete": Concrete, "plywood": Plywood, "asphalt": Asphalt, "grass": Grass}[
        kind
    ](seed)
    return new if kind == "grass" else Worn(new, history_of(seed, kind))
