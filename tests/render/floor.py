"""Floors: concrete, plywood, grass and asphalt, as colour and relief over the floor's plane."""

from typing import Protocol

import numpy as np

from tests.render.asphalt import Asphalt
from tests.render.concrete import Concrete, seen
from tests.render.grass import Grass
from tests.render.history import History, history_of
from tests.render.noise import F32, Waves, noise_2d, smoothstep
from tests.render.wood import linear


class Floor(Protocol):
    """A floor's linear albedo (N, 3) and slopes at points, given the footprint of a pixel."""

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]: ...

    def gloss(self, x: F32, y: F32) -> F32: ...


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
        grain = noise_2d(s + 2, u * 0.03, v, 2.0) * seen(2, fp) + 0.8 * noise_2d(
            s + 3, u * 0.02, v, 9.0
        )
        light = -0.17 * ring + 0.075 * grain + 0.06 * noise_2d(s + 4, u, v, 300.0)
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
        hy = 0.03 * noise_2d(s + 14, u * 0.04, v, 2.5) * seen(2.5, fp)
        return colour, hy * sn, hy * c

    def gloss(self, x: F32, y: F32) -> F32:
        """Return how polished the floor is at points: hardly."""
        return np.full(x.shape, 0.7, dtype=np.float32)

    def _plugs(self, u: F32, v: F32) -> F32:
        """Return where plugs are let in, at most one to a cell of the sheet."""
        cu, cv = np.floor(u / 430), np.floor(v / 305)
        dice = np.sin(cu * 12.9898 + cv * 78.233 + self._s) * 43758.5453
        dice = dice - np.floor(dice)
        du = u - (cu + 0.25 + 0.5 * dice) * 430
        dv = v - (cv + 0.3 + 0.4 * (dice * 7 % 1)) * 305
        inside = 1 - np.hypot(du / 48, 0) ** 2 - np.abs(dv) / 22
        return (smoothstep(-0.02, 0.03, inside) * (dice < 0.3)).astype(np.float32)


class Worn:
    """A floor with its history."""

    def __init__(self, new: Floor, history: History) -> None:
        self._new, self._history = new, history
        self.gloss = new.gloss

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        colour, hx, hy = self._new.shade(x, y, fp)
        return self._history.lay(colour, x, y, fp), hx, hy


def floor_of(kind: str, seed: int) -> Floor:
    """Return the floor of a photograph."""
    new: Floor = {"concrete": Concrete, "plywood": Plywood, "asphalt": Asphalt, "grass": Grass}[
        kind
    ](seed)
    return new if kind == "grass" else Worn(new, history_of(seed, kind))
