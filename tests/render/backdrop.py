"""What the floor ends at: the foot of a wall, a cabinet, a shutter, a kerb of bricks.

An upright plane behind the scene, the same for all photographs on one floor; whoever stands on its
far side does not see it.
"""

import numpy as np
from numpy.typing import NDArray

from tests.render.light import Light, irradiance
from tests.render.noise import F32, noise_2d, noises_2d, smoothstep
from tests.render.wood import linear

_KINDS = {
    "concrete": ("plaster", "blocks", "cabinet", "shutter", "nothing"),
    "plywood": ("plaster", "cabinet", "plaster", "nothing"),
    "asphalt": ("bricks", "shutter", "blocks", "nothing", "nothing"),
    "grass": ("bricks", "blocks", "nothing", "nothing", "nothing"),
}
_WALLS = ((206, 202, 190), (176, 178, 172), (196, 184, 160), (150, 158, 160), (120, 126, 122))
_CABINETS = ((44, 52, 66), (58, 60, 62), (92, 96, 98), (128, 118, 104))


class Backdrop:
    """One upright plane; ``ahead`` of it is the scene."""

    def __init__(
        self, seed: int, floor: str, free: tuple[float, float], long: float, light: Light, eye: F32
    ) -> None:
        rng = np.random.default_rng((seed, 863))
        self._rng_seed = int(rng.integers(1 << 20))
        self.kind = str(rng.choice(_KINDS[floor]))
        side = int(rng.choice(4, p=[0.55, 0.25, 0.1, 0.1]))  # beyond +y, -y, +x, -x
        turn = np.radians((90.0, -90.0, 0.0, 180.0)[side] + rng.normal(0, 2.5))
        self._to = np.float32([np.cos(turn), np.sin(turn)])
        off = 260 + float(rng.gamma(1.6, 240))
        self._at = np.float32((free[1], -free[0], long + 40, 200.0)[side] + off)
        self._light = light
        self._wall = linear(_WALLS[int(rng.integers(len(_WALLS)))])
        self._cabinet = linear(_CABINETS[int(rng.integers(len(_CABINETS)))])
        self._skirt = linear(((210, 208, 200), (74, 72, 70), (140, 136, 128))[int(rng.integers(3))])
        self._tall = float(rng.uniform(55, 120))
        self._step = float(rng.uniform(380, 720))
        self._eye = eye
        towards = float(light.towards[:2] @ self._to)
        behind = light.spec.kind == "sun" and towards > -0.1  # it would shade the whole scene
        self.is_there = (
            self.kind != "nothing" and not behind and self.ahead(eye[:1], eye[1:2])[0] > 60
        )

    def ahead(self, x: F32, y: F32) -> F32:
        """Return how far before the plane floor points lie; negative beyond it."""
        return self._at - (x * self._to[0] + y * self._to[1])

    def keeps(self, x: float, y: float, size: float) -> bool:
        """Say whether a thing of this half size stands on the near side."""
        return not self.is_there or float(self.ahead(np.float32([x]), np.float32([y]))[0]) > size

    def open_sky(self, x: F32, y: F32) -> F32:
        """Return the share of sky that the plane leaves to the floor before it."""
        if not self.is_there:
            return np.ones(x.shape, dtype=np.float32)
        d = np.clip(self.ahead(x, y), 0, None)
        hidden = 0.34 * np.exp(-d / 300) + 0.16 * np.exp(-d / 50) + 0.34 * np.exp(-d / 9)
        return (1 - hidden).astype(np.float32)

    def grime(self, x: F32, y: F32) -> F32:
        """Return how much dirt the broom left along the foot (0..1)."""
        if not self.is_there:
            return np.zeros(x.shape, dtype=np.float32)
        d = np.clip(self.ahead(x, y), 0, None)
        rough = noise_2d(self._rng_seed, x, y, 26.0)
        return np.clip(np.exp(-d / np.clip(30 + 9 * rough, 6, None)) * (0.8 + 0.3 * rough), 0, 1)

    def foot(self, long: float) -> NDArray[np.float64]:
        """Return points (N, 3) along the plane's foot and its skirting's top."""
        along = np.float64([-self._to[1], self._to[0]])
        t = np.linspace(-3000, long + 3000, 160)[:, None]
        start = self._to.astype(np.float64) * float(self._at)
        line = start + along * (t if self._to[1] <= 0 else -t)
        return np.vstack(
            [np.column_stack([line, np.full(len(line), z)]) for z in (0.0, self._tall)]
        )

    def meet(self, run: F32, rise: F32) -> tuple[NDArray[np.intp], F32, F32, F32]:
        """Return which rays (x, y run per mm of descent) meet it first, and x, y, z there."""
        drop = self._eye[2]
        x, y = self._eye[0] + run * drop, self._eye[1] + rise * drop
        beyond = self.ahead(x, y)
        at = np.nonzero(beyond < 0)[0]
        here = self.ahead(self._eye[:1], self._eye[1:2])[0]
        share = here / (here - beyond[at])
        down = drop * share
        return at, self._eye[0] + run[at] * down, self._eye[1] + rise[at] * down, drop - down

    def shade(self, x: F32, y: F32, z: F32, fp: F32) -> F32:
        """Return the light (N, 3) that its points send back."""
        u = (-x * self._to[1] + y * self._to[0]).astype(np.float32)
        n = len(u)
        slow, fine = (
            noises_2d(self._rng_seed, u, z, 150.0),
            noises_2d(self._rng_seed + 1, u, z, 9.0),
        )
        tilt = np.zeros(n, dtype=np.float32)  # how much the surface looks up
        draw = {
            "plaster": self._plaster,
            "blocks": self._courses,
            "bricks": self._courses,
            "cabinet": self._panels,
            "shutter": self._slats,
        }[self.kind]
        albedo, sky = draw(u, z, fp, slow, fine, tilt)
        splash = np.exp(-z / np.clip(60 + 25 * slow[:, 1], 15, None)) * np.clip(
            0.5 + 0.3 * fine[:, 2], 0, 1
        )
        albedo = albedo + (np.float32([0.12, 0.105, 0.085]) - albedo) * (0.6 * splash)[:, None]
        normal = (-self._to[0] + 0 * u, -self._to[1] + 0 * u, 0.05 + tilt + 0.05 * fine[:, 3])
        sky = sky * (0.5 + 0.12 * smoothstep(0, 200, z) + self._light.bounce * 0.5)
        sky = sky * (1 - 0.45 * np.exp(-z / 16))
        return albedo * irradiance(self._light, normal, np.ones(n, np.float32) * 0.9, sky)

    def _plaster(self, u: F32, z: F32, fp: F32, slow: F32, fine: F32, tilt: F32) -> tuple[F32, F32]:
        wall = self._wall * np.exp(0.05 * slow[:, 0] + 0.02 * fine[:, 0])[:, None]
        low = np.exp(-z / 260)  # feet and brooms reach no higher
        scuff = smoothstep(1.9, 2.7, noise_2d(self._rng_seed + 3, u * 0.4, z + 0.2 * u, 17.0))
        rub = smoothstep(0.4, 2.2, slow[:, 3] + 0.5 * fine[:, 3])
        wall = wall * (1 - (0.35 * scuff + 0.16 * rub) * low)[:, None]
        skirt = self._skirt * np.exp(0.05 * slow[:, 2] + 0.03 * fine[:, 1])[:, None]
        skirting = (smoothstep(0.0, 1.0, (self._tall - z) / np.maximum(fp, 1.0) + 0.5))[:, None]
        tilt += 1.2 * np.exp(-(((z - self._tall + 4) / 5.0) ** 2))
        groove = np.exp(-(((z - self._tall * 0.8) / np.maximum(2.0, fp)) ** 2))
        under = np.exp(-np.clip(z - self._tall, 0, None) / 7) * (z > self._tall)
        return wall + (skirt - wall) * skirting, (1 - 0.35 * groove - 0.3 * under).astype(
            np.float32
        )

    def _courses(self, u: F32, z: F32, fp: F32, slow: F32, fine: F32, tilt: F32) -> tuple[F32, F32]:
        long, tall = (225.0, 75.0) if self.kind == "bricks" else (400.0, 200.0)
        row = np.floor(z / tall)
        shift = u + (row % 2) * 0.5 * long + 0.8 * fine[:, 0]
        column = np.floor(shift / long)
        dice = np.sin(row * 78.233 + column * 12.9898 + self._rng_seed) * 43758.5453
        dice = (dice - np.floor(dice)).astype(np.float32)
        du = np.minimum(shift - column * long, (column + 1) * long - shift)
        dz = np.minimum(z - row * tall, (row + 1) * tall - z) + 0.6 * fine[:, 1]
        joint = smoothstep(6.5, 3.5, np.minimum(du, dz))
        if self.kind == "bricks":
            body = np.float32([0.24, 0.105, 0.07]) * np.exp(0.9 * (dice - 0.5))[:, None]
            mortar = np.float32([0.30, 0.28, 0.25])
        else:
            body = self._wall * 0.85 * np.exp(0.10 * (dice - 0.5))[:, None]
            mortar = self._wall * 0.62
        body = body * np.exp(0.10 * slow[:, 0] + 0.09 * fine[:, 2])[:, None]
        tilt += np.where(z - row * tall > tall - 8, 0.25, 0.0).astype(np.float32)
        colour = body + (mortar - body) * joint[:, None]
        return colour, (1 - 0.3 * joint).astype(np.float32)

    def _panels(self, u: F32, z: F32, fp: F32, slow: F32, fine: F32, tilt: F32) -> tuple[F32, F32]:
        across = u - np.floor(u / self._step) * self._step
        gap = np.exp(-((np.minimum(across, self._step - across) / np.maximum(2.0, fp)) ** 2))
        body = self._cabinet * np.exp(0.07 * slow[:, 0] + 0.03 * fine[:, 0])[:, None]
        # It stands on feet over a dark hollow.
        foot = np.abs(across - 0.5 * self._step) < 26
        hollow = smoothstep(0.5, -0.5, (z - self._tall) / np.maximum(fp, 1.0)) * ~foot
        lip = np.exp(-(((z - self._tall - 3) / np.maximum(3.0, fp)) ** 2))
        body = body * (1 + 0.5 * lip - 0.7 * gap * (z > self._tall))[:, None]
        body = body * (1 - 0.90 * hollow)[:, None]
        return body, (1 - 0.6 * hollow).astype(np.float32)

    def _slats(self, u: F32, z: F32, fp: F32, slow: F32, fine: F32, tilt: F32) -> tuple[F32, F32]:
        part = (z - 40) / 78 - np.floor((z - 40) / 78)
        seal = smoothstep(0.5, -0.5, (z - 38) / np.maximum(fp, 1.0))
        body = self._wall * np.exp(0.04 * slow[:, 0] + 0.02 * fine[:, 0])[:, None]
        rub = np.float32([0.022, 0.022, 0.023]) * np.exp(0.2 * fine[:, 1])[:, None]
        tilt += (np.sin(2 * np.pi * part) * 0.5 * (z > 40)).astype(np.float32)
        crack = np.exp(-(((part - 0.02) * 78 / np.maximum(2.5, fp)) ** 2)) * (z > 40)
        return body + (rub - body) * seal[:, None], (1 - 0.65 * crack).astype(np.float32)
