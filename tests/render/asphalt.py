"""An asphalt yard: stones in tar, worn pale where wheels run, dark where tar lies bare."""

from functools import lru_cache

import cv2
import numpy as np

from tests.render.concrete import seen
from tests.render.kept import kept
from tests.render.mottle import Mottle, octaves
from tests.render.noise import (
    F32,
    Waves,
    blended,
    lookup,
    noise_2d,
    noises_2d,
    smoothstep,
    tinted,
    wrapped,
)
from tests.render.wood import linear


class Asphalt:
    """Stones stand out of the tar: where they are worn bare it is paler, rougher and duller."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng((seed, 419))
        self._s = int(rng.integers(1 << 20))
        tint = np.float32([96, 94, 91]) * rng.uniform(0.85, 1.25)
        self._base = linear(tuple(tint))  # type: ignore[arg-type]
        self._bend = Waves(self._s, (210.0, 190.0, 1.0))
        self._silt = float(rng.uniform(0.2, 1.0))
        self._slow = Mottle(self._fields)

    def _fields(self, x: F32, y: F32) -> F32:
        """Return log brightness, bareness of the stones, silt (0..1), warmth over the yard."""
        s = self._s
        big = octaves(
            lambda k, size: noise_2d(s + 20 + k, x, y, size, 0.8 * k), (1100.0, 480.0, 210.0), 0.75
        )
        bx, by = x + 90 * big, y + 80 * noise_2d(s + 24, x, y, 300.0, 0.4)
        bare = octaves(
            lambda k, size: noise_2d(s + 25 + k, bx, by, size, 0.7 * k), (420.0, 170.0, 80.0), 0.75
        )
        tar = smoothstep(0.8, 1.6, noise_2d(s + 29, bx, by, 330.0, 1.3))
        silt = smoothstep(0.4, 2.0, noise_2d(s + 30, x, y, 560.0, 0.2) + 0.5 * bare)
        light = 0.10 * big + 0.09 * bare - 0.22 * tar + 0.12 * silt
        return np.stack([light, bare - 1.5 * tar, self._silt * silt, 0.7 * big + silt], axis=-1)

    def gloss(self, x: F32, y: F32) -> F32:
        """Return how polished the yard is at points: tar shines, silt does not."""
        return np.clip(0.6 - 0.3 * self._slow.at(x, y)[..., 1], 0.1, 1.5)

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        s = self._s
        slow = self._slow.at(x, y)
        bare, silt = slow[..., 1], slow[..., 2]
        mid = noises_2d(s + 31, x, y, 52.0, 0.3)
        meso = noises_2d(s + 32, x, y, 15.0, 0.8)
        fine = noises_2d(s + 33, x, y, 3.2) * seen(3.2, fp)[:, None]
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
        pick = smoothstep(-0.2, 0.2, mid[:, 1] + 0.4 * meso[:, 3])[:, None]
        stone = (one + (two - one) * pick) * seen(5, fp)[:, None]
        strength = np.clip(0.72 + 0.22 * bare + 0.18 * mid[:, 2], 0.25, 1.3) * (1 - 0.6 * silt)
        light = slow[..., 0] + 0.065 * mid[:, 0] + 0.075 * meso[:, 0] + 0.11 * fine[:, 0]
        colour = self._base * np.exp(light[:, None] + strength[:, None] * stone)
        # Holes where stones broke out, and tar that bled.
        hole = smoothstep(1.9, 2.4, meso[:, 1] + 0.4 * fine[:, 1])
        bled = smoothstep(1.5, 2.2, mid[:, 3] + 0.4 * meso[:, 2])
        colour = tinted(colour, 1 - 0.5 * hole - 0.25 * bled * (1 - hole))
        warm = slow[..., 3] + 0.4 * mid[:, 2]
        for k, share in enumerate((0.016, 0.003, -0.02)):
            colour[:, k] *= np.exp(share * warm)
        low = np.clip(0.75 - 1.6 * stone[:, 1] + 0.3 * meso[:, 0], 0.1, 1)  # it lies between stones
        film = np.clip(silt * low * (0.55 + 0.25 * meso[:, 2] + 0.2 * fine[:, 2]), 0, 0.85)
        colour = blended(colour, np.float32([0.25, 0.22, 0.175]), film)
        grain = 0.22 * seen(4, fp) * (1 - 0.5 * silt)
        return (
            colour,
            grain * (fine[:, 3] + 0.5 * meso[:, 3]),
            grain * (fine[:, 1] + 0.5 * meso[:, 0]),
        )


@lru_cache(maxsize=7)
def _stones(seed: int) -> F32:
    """Return the stones of a seed, drawn once and then kept on disk: it takes seconds."""
    return kept("stones", seed, _draw_stones)


def _draw_stones(seed: int, side: int = 1400) -> F32:
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
        wraps = [side if k < 15 else -side if k > side - 15 else 0 for k in at[i]]
        for ox in dict.fromkeys((0, wraps[0])):
            for oy in dict.fromkeys((0, wraps[1])):
                points = np.round((ring + np.array([ox, oy])) * 16).astype(np.int32)
                cv2.fillConvexPoly(picture, points, colour, cv2.LINE_AA, 4)
    return picture
