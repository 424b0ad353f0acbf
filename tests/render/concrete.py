"""A concrete floor: cement that set unevenly, burnished by the trowel, worn, pitted and dusty."""

import numpy as np

from tests.render.mottle import Mottle, octaves
from tests.render.noise import F32, blended, noise_2d, noises_2d, smoothstep, spread, tinted
from tests.render.wood import linear


def seen(size_mm: float, fp: F32) -> F32:
    """Return how much of a detail this size survives in a pixel this large (0..1)."""
    return np.clip(size_mm / (2.0 * fp) - 0.35, 0, 1)


class Concrete:
    """Height, colour and gloss go together: what is burnished is darker, smoother, shinier."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng((seed, 401))
        self._s = int(rng.integers(1 << 20))
        self._base = linear(tuple(np.float32([150, 146, 138]) * rng.uniform(0.84, 1.1)))  # type: ignore[arg-type]
        self._joint = rng.uniform(-900, 1800), rng.normal(0, 0.03)
        self._has_joint = rng.random() < 0.4
        self._steel = float(rng.uniform(0.25, 1.0))  # how long it was trowelled
        self._grime = float(rng.uniform(0.3, 1.0))
        self._slow = Mottle(self._fields)

    def _fields(self, x: F32, y: F32) -> F32:
        """Return log brightness, warmth, burnish (0..1) and dust (0..1) over the floor."""
        s = self._s
        big = octaves(
            lambda k, size: noise_2d(s + k, x, y, size, 0.3 + 0.7 * k), (900.0, 420.0, 190.0), 0.75
        )
        bx, by = x + 110 * big, y + 90 * noise_2d(s + 4, x, y, 260.0, 0.5)
        rubbed = octaves(
            lambda k, size: noise_2d(s + 5 + k, bx, by, size, 0.9 * k), (380.0, 150.0, 80.0), 0.7
        )
        # The trowel's sweeps: arcs a hand wide, darker where the steel bit.
        arc = np.hypot(x - np.float32(900 + 40 * (s % 60)), y + np.float32(700 + s % 900))
        sweep = noise_2d(s + 9, arc, 0.18 * np.arctan2(y + 1500, x - 800) * 900, 90.0)
        burnish = smoothstep(-0.1, 1.5, rubbed + 0.5 * sweep) * np.float32(self._steel)
        damp = smoothstep(0.9, 1.5, noise_2d(s + 10, bx, by, 620.0, 1.1))
        light = 0.10 * big - 0.26 * burnish - 0.14 * damp * np.float32(self._grime)
        light = light + 0.05 * noise_2d(s + 11, bx, by, 75.0, 0.2)
        warm = 0.9 * noise_2d(s + 12, x, y, 500.0, 0.7) + 0.6 * noise_2d(s + 13, bx, by, 140.0)
        dust = smoothstep(0.1, 1.9, noise_2d(s + 14, x, y, 700.0) + 0.4 * big)
        return np.stack([light, warm - burnish, burnish, dust], axis=-1)

    def gloss(self, x: F32, y: F32) -> F32:
        """Return how polished the floor is at points, about 1."""
        slow = self._slow.at(x, y)
        return np.clip(0.45 + 1.9 * slow[..., 2] - 0.6 * slow[..., 3], 0.1, 2.2)

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        s = self._s
        slow = self._slow.at(x, y)
        burnish, dust = slow[..., 2], slow[..., 3]
        open_ = 1 - 0.75 * burnish  # sand and pits lie open where it was not burnished
        mid = noises_2d(s + 20, x, y, 44.0, 0.2)
        meso = noises_2d(s + 21, x + 3.0 * mid[:, 3], y + 3.0 * mid[:, 2], 13.0, 0.9)
        sand = noises_2d(s + 22, x, y, 4.6, 1.3) * seen(4.6, fp)[:, None]
        micro = noises_2d(s + 23, x, y, 1.9, 0.4) * seen(1.9, fp)[:, None]
        light = slow[..., 0] + 0.055 * mid[:, 0] + 0.045 * meso[:, 0] * open_
        light = light + (0.065 * sand[:, 0] + 0.075 * micro[:, 0]) * (0.4 + 0.6 * open_)
        # Blotches of cement paste with sharp borders, and the veins between them.
        edge = smoothstep(0.1, 0.5, mid[:, 1] + 0.45 * meso[:, 1])
        light = light - 0.075 * edge + 0.06 * smoothstep(0.28, 0.0, np.abs(mid[:, 1]))
        # Dark scuffs and short drags; pale rubs.
        drag = noise_2d(s + 24, x * 0.13, y + 0.4 * x, 7.0, 0.8)
        light = light - 0.17 * smoothstep(1.7, 2.7, drag + 0.35 * meso[:, 2])
        light = light + 0.09 * smoothstep(1.8, 2.8, -drag + 0.3 * meso[:, 3])
        colour = spread(np.exp(light), self._base)
        warm = slow[..., 1] + 0.35 * mid[:, 2]
        for k, share in enumerate((0.024, 0.005, -0.026)):
            colour[:, k] *= np.exp(share * warm)
        patch = smoothstep(-0.6, 1.5, mid[:, 3]) * open_
        pits = smoothstep(1.7, 2.3, sand[:, 1] + 0.5 * meso[:, 2]) * patch
        large = smoothstep(2.3, 2.6, meso[:, 3] + 0.25 * sand[:, 2]) * (0.3 + 0.7 * patch)
        dark = 0.45 * np.maximum(pits, large)
        crumbs = smoothstep(2.2, 2.5, micro[:, 2] + 0.5 * sand[:, 3]) * (0.25 + dust)
        colour = tinted(colour, 1 - np.clip(dark, 0, 0.9))
        tan = np.float32([0.34, 0.305, 0.255])
        film = np.clip(dust * (0.16 + 0.10 * meso[:, 1] + 0.10 * micro[:, 3]), 0, 0.6)
        colour = blended(colour, tan, film) + (0.10 * crumbs)[:, None]
        if self._has_joint:
            wander = 0.6 * mid[:, 0] + 0.5 * sand[:, 2]
            off = np.abs(y - self._joint[0] - self._joint[1] * x + wander)
            colour = tinted(colour, 1 - 0.72 * smoothstep(3.6, 1.6, off))
            colour = tinted(colour, np.exp(-0.12 * np.exp(-off / 30) * (1 + 0.4 * mid[:, 2])))
        hx = 0.07 * micro[:, 1] * open_ + 0.06 * sand[:, 0] * open_ + 0.012 * meso[:, 0]
        hy = 0.07 * micro[:, 0] * open_ + 0.06 * sand[:, 3] * open_ + 0.012 * meso[:, 1]
        return colour, hx, hy
