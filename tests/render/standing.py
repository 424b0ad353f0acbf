"""Things that stand on the floor with a height of their own: offcuts, cans, tools, cables.

Each is an outline in the floor's plane, extruded; looked at along the true rays, so it leans
away from the middle of the picture as real things do.
"""

import itertools
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tests.render.clutter import box_of, is_off
from tests.render.light import Light, irradiance
from tests.render.noise import F32, smoothstep
from tests.render.things import Cable, Thing, measure

_INDOORS = (
    "offcut", "coil", "saw", "tape", "glove", "clamp", "rag", "square", "cable", "paper",
    "hammer", "offcut", "can", "bucket",
)  # fmt: skip
_OUTDOORS = (
    "offcut", "coil", "hose", "glove", "tape", "saw", "rag", "stone", "stone", "stone", "bucket",
)  # fmt: skip
_SMOOTH = ("can", "bucket", "tape", "hammer", "clamp", "saw", "square")
_SELDOM = ("can", "bucket")


def _kept_off(path: NDArray, free: tuple[float, float], spare: float) -> bool:
    return bool(((path[:, 1] < free[0] - spare) | (path[:, 1] > free[1] + spare)).all())


class Standing:
    """Everything that stands about, none of it nearer than a hand to the board or the rule."""

    def __init__(
        self,
        seed: int,
        floor: str,
        free: tuple[float, float],
        length: float,
        light: Light,
        keeps: Callable[[float, float, float], bool] = lambda *_: True,
    ) -> None:
        """``keeps(x, y, size)`` says whether there is floor for a thing there."""
        rng = np.random.default_rng((seed, 821))
        self._light = light
        self.things: list[Thing] = []
        self.cables: list[Cable] = []
        outdoors = floor in ("grass", "asphalt")
        shadow = float(np.hypot(*light.slope))
        for kind in _OUTDOORS if outdoors else _INDOORS:
            if rng.random() < (0.85 if kind in _SELDOM else 0.62 if outdoors else 0.56):
                continue
            size, tall = measure(kind, rng)
            spare = max(size) + 60 + (tall * shadow if light.spec.kind == "sun" else 0.6 * tall)
            above = rng.random() < 0.5
            y = (
                free[0] - spare - rng.gamma(1.6, 260)
                if above
                else free[1] + spare + rng.gamma(1.6, 260)
            )
            where = float(rng.uniform(-500, length + 500)), float(y)
            number = int(rng.integers(1 << 20))
            if kind in ("cable", "hose", "coil"):
                cable = Cable(number, np.array(where), kind == "hose", kind == "coil")
                if _kept_off(cable.path, free, 60) and all(keeps(*p, 15) for p in cable.path):
                    self.cables.append(cable)
                continue
            if not keeps(*where, max(size)) or any(
                np.hypot(where[0] - t.x, where[1] - t.y) < 1.1 * max(size) + max(t.size)
                for t in self.things
            ):
                continue
            self.things.append(Thing(kind, *where, float(rng.uniform(0, 6.28)), size, tall, number))

    def shadows(self, x: F32, y: F32) -> F32:
        """Return the share of light that reaches the floor past all of them."""
        left = np.ones(x.shape, dtype=np.float32)
        slope, soft = self._light.slope, float(self._light.soft)
        box = box_of(x, y)
        for t in self.things:
            reach = max(t.size) * 1.5 + t.tall * (float(np.hypot(*slope)) + soft) + 60
            if is_off(box, t.x, t.y, reach):
                continue
            at = np.nonzero((np.abs(x - t.x) < reach) & (np.abs(y - t.y) < reach))[0]
            if not len(at):
                continue
            xs, ys = x[at], y[at]
            nearest = np.ones(len(at), dtype=np.float32)
            for h in np.linspace(0.1, 1, 6) ** 1.5 * t.tall:
                d = t.outside(xs + slope[0] * np.float32(h), ys + slope[1] * np.float32(h))
                nearest = np.minimum(nearest, d / max(soft * h, 0.6) + 0.5)
            d = np.clip(t.outside(xs, ys), 0, None)
            under = np.exp(-d / (0.08 * t.tall + 1.5))
            wall = 0.5 * (1 - d / np.sqrt(d * d + t.tall**2))
            deep = 0.75 if self._light.spec.kind == "sun" else 0.38
            left[at] *= (
                (1 - deep * (1 - smoothstep(0, 1, nearest))) * (1 - 0.7 * under) * (1 - 0.9 * wall)
            )
        for c in self.cables:
            at = self._near(c, x, y)
            if len(at):
                d, _, _ = c.nearest(x[at] + slope[0] * c.radius, y[at] + slope[1] * c.radius)
                left[at] *= 1 - 0.5 * np.exp(-((d / (1.3 * c.radius + 0.6 * soft * c.radius)) ** 4))
        return left

    def _near(self, c: Cable, x: F32, y: F32) -> NDArray[np.intp]:
        low, high = c.path.min(axis=0) - 40, c.path.max(axis=0) + 40
        return np.nonzero((x > low[0]) & (x < high[0]) & (y > low[1]) & (y < high[1]))[0]

    def stand(self, lit: F32, x: F32, y: F32, fp: F32, eye: F32) -> F32:
        """Return the light seen (N, 3) with the things before the floor."""
        for c in self.cables:
            self._lay_cable(c, lit, x, y, fp)
        box = box_of(x, y)
        for t in self.things:
            lean = t.tall / float(eye[2])
            reach = (max(t.size) * 1.5 + 60) / max(1 - lean, 0.3) + lean * float(
                np.hypot(t.x - eye[0], t.y - eye[1])
            )
            if is_off(box, t.x, t.y, reach):
                continue
            at = np.nonzero((np.abs(x - t.x) < reach) & (np.abs(y - t.y) < reach))[0]
            if len(at):
                self._extrude(t, lit, at, x[at], y[at], fp[at], eye)
        return lit

    def _extrude(
        self, t: Thing, lit: F32, at: NDArray[np.intp], x: F32, y: F32, fp: F32, eye: F32
    ) -> None:
        run, rise = (eye[0] - x) / eye[2], (eye[1] - y) / eye[2]
        levels = np.linspace(t.tall, 0, 7 if t.tall < 60 else 24, dtype=np.float32)
        above = t.outside(x + run * levels[0], y + rise * levels[0])
        top, least = above < 0, above
        z = np.where(top, levels[0], -1).astype(np.float32)
        for high, low in itertools.pairwise(levels):
            below = t.outside(x + run * low, y + rise * low)
            crossed = (z < 0) & (above >= 0) & (below < 0)
            part = above / np.where(crossed, above - below, 1)
            z = np.where(crossed, high + (low - high) * part, z)
            least = np.minimum(least, below)
            above = below
        cover = np.clip(0.5 - least / fp, 0, 1) * (least < fp)
        z = np.clip(z, 0, t.tall).astype(np.float32)
        seen = np.nonzero(cover > 0)[0]
        if not len(seen):
            return
        xs, ys, zs = x[seen] + run[seen] * z[seen], y[seen] + rise[seen] * z[seen], z[seen]
        side = ~top[seen]
        e = np.float32(1.5)
        gx = t.outside(xs + e, ys) - t.outside(xs - e, ys)
        gy = t.outside(xs, ys + e) - t.outside(xs, ys - e)
        size = np.maximum(np.hypot(gx, gy), 1e-3)
        nx, ny = np.where(side, gx / size, 0), np.where(side, gy / size, 0)
        round_top = np.exp(-np.clip(-t.outside(xs, ys), 0, None) / (0.02 * t.tall + 1.0))
        nx, ny = (
            nx + np.where(side, 0, 0.5 * round_top * gx / size),
            ny + np.where(side, 0, 0.5 * round_top * gy / size),
        )
        hx, hy = t.relief(xs, ys)
        nx, ny = nx - np.where(side, 0, hx), ny - np.where(side, 0, hy)
        sky = np.where(side, 0.35 + 0.3 * zs / t.tall + self._light.bounce, 1.0).astype(np.float32)
        through = self._light.cast(xs, ys, zs)
        normal = (nx, ny, np.where(side, 0.08, 1.0))
        own = t.colour(xs, ys, zs, side) * irradiance(self._light, normal, through, sky)
        if t.kind in _SMOOTH:  # paint and plastic send back some of the light as it came
            shine = (normal[0] * self._light.towards[0] + normal[1] * self._light.towards[1]) + (
                normal[2] * self._light.towards[2]
            )
            shine = np.clip(shine / np.sqrt(nx * nx + ny * ny + normal[2] ** 2), 0, 1) ** 9
            own = own + (0.13 * shine * through)[:, None] * (self._light.sun + self._light.sky)
        lit[at[seen]] += (own - lit[at[seen]]) * cover[seen][:, None]

    def _lay_cable(self, c: Cable, lit: F32, x: F32, y: F32, fp: F32) -> None:
        at = self._near(c, x, y)
        if not len(at):
            return
        d, ox, oy = c.nearest(x[at], y[at])
        r = np.float32(c.radius)
        seen = np.nonzero(d < r + fp[at])[0]
        if not len(seen):
            return
        d, ox, oy, size = d[seen], ox[seen], oy[seen], fp[at][seen]
        share = np.clip(d / r, 0, 1)
        up = np.sqrt(1 - 0.96 * share * share)
        nx, ny = ox / r, oy / r
        here = at[seen]
        through = self._light.cast(x[here], y[here], 0.0)
        light = irradiance(self._light, (nx, ny, up), through, 0.5 + 0.5 * up)
        shine = (
            np.clip(nx * self._light.towards[0] + ny * self._light.towards[1] + up, 0, None) / 1.6
        )
        own = c.ink * light + (0.05 * np.clip(shine, 0, 1) ** 14)[:, None] * light
        cover = np.clip((r - d) / size + 0.5, 0, 1)
        lit[here] += (own - lit[here]) * cover[:, None]
