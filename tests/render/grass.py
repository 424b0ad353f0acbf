"""A lawn from above: blades drawn one by one, kept on disk, laid so that it never repeats."""

from functools import lru_cache

import cv2
import numpy as np

from tests.render.kept import kept
from tests.render.noise import F32, Waves, lookup, noise_2d, smoothstep, spread, tinted, wrapped


class Grass:
    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng((seed, 433))
        self._s = int(rng.integers(1 << 20))
        self._dry = float(rng.uniform(-0.15, 0.25))
        self._bend = Waves(self._s, (290.0, 260.0, 1.0))

    def shade(self, x: F32, y: F32, fp: F32) -> tuple[F32, F32, F32]:
        s = self._s
        turf = _turf(s % 5)
        side = turf.shape[0]
        bend = 9.0 * self._bend.at(x, y, 0.0)
        scale = np.float32(1.43)
        one = lookup(turf, wrapped((x + bend) * scale, side), wrapped((y - bend) * scale, side))
        c, t = np.float32(0.36), np.float32(0.93)
        two = lookup(
            turf,
            wrapped((x * c - y * t + bend) * scale + 500, side),
            wrapped((x * t + y * c) * scale, side),
        )
        pick = smoothstep(
            -0.12, 0.12, noise_2d(s + 2, x, y, 120.0) + 0.3 * noise_2d(s + 3, x, y, 25.0)
        )
        colour = one + tinted(two - one, pick)
        light = 0.20 * noise_2d(s + 4, x, y, 420.0) + 0.14 * noise_2d(s + 5, x, y, 130.0)
        light = light + 0.12 * noise_2d(s + 6, x, y, 40.0)
        dry = np.clip(
            self._dry + 0.28 * noise_2d(s + 7, x, y, 320.0) + 0.15 * noise_2d(s + 8, x, y, 60.0),
            0,
            1,
        )
        colour = tinted(colour, np.exp(light))
        luma = colour @ np.float32([0.3, 0.6, 0.1])
        straw = spread(luma, np.float32([1.55, 1.22, 0.62]))
        colour = colour + tinted(straw - colour, 0.75 * dry)
        return colour, 0 * x, 0 * x

    def gloss(self, x: F32, y: F32) -> F32:
        """Return how polished a lawn is: not at all."""
        return np.zeros(x.shape, dtype=np.float32)


@lru_cache(maxsize=5)
def _turf(seed: int) -> F32:
    """Return the turf of a seed, drawn once and then kept on disk: it takes seconds."""
    return kept("turf", seed, _draw_turf, _blades)


def _draw_turf(seed: int, side: int = 1400) -> F32:
    """Return linear albedo (H, W, 3), 0.7 mm a pixel, of mown grass from above; periodic."""
    rng = np.random.default_rng((seed, 439))
    picture = np.empty((side, side, 3), dtype=np.float32)
    picture[:] = np.float32([0.028, 0.026, 0.014])
    layers = ((14000, 0.34, 0.6), (17000, 0.62, 0.8), (16000, 0.9, 0.85))
    for count, bright, tall in layers:
        _blades(picture, rng, count, bright, tall)
    return picture


def _blades(picture: F32, rng: np.random.Generator, count: int, bright: float, tall: float) -> None:
    """Draw pointed, bent blades of grass, wrapped round the picture's borders."""
    side = picture.shape[0]
    # Thrown blade by blade, reckoned all at once: that is three times as quick.
    thrown = [
        (
            *rng.uniform(0, side, 2),
            rng.uniform(0, 2 * np.pi),
            rng.normal(0, 0.35),
            rng.gamma(4.0, 9.0),
            rng.random(),
            rng.uniform(0.5, 1.5),
            rng.normal(0, 1),
            rng.normal(0, 0.26),
        )
        for _ in range(count)
    ]
    x, y, turn, bow, long, dry, half, hue, tone = np.array(thrown).T
    long = long * tall + 8
    steps = np.linspace(0, 1, 6)
    a = turn[:, None] + bow[:, None] * steps
    line = np.stack([x, y], axis=-1)[:, None] + np.cumsum(
        np.stack([np.cos(a), np.sin(a)], axis=-1) * long[:, None, None] / 5, axis=1
    )
    straw = dry < 0.06
    half = (half * np.where(straw, 0.7, 1.0))[:, None] * (1 - steps**2.2)
    across = np.stack([-np.sin(a), np.cos(a)], axis=-1) * half[..., None]
    tone = bright * np.exp(tone)
    green = [0.090 + 0.016 * hue, 0.128 + 0.006 * hue, 0.046 - 0.003 * hue]
    ink = np.stack(green, axis=-1)
    ink[straw] = (0.27, 0.215, 0.11)
    ink *= tone[:, None]
    lit_ink = (ink * 1.3).tolist()
    rings = np.concatenate([line + across, (line - across)[:, ::-1]], axis=1)
    lits = np.concatenate([line + across, line[:, ::-1]], axis=1)
    lo, hi = rings.min(axis=1), rings.max(axis=1)
    wraps = np.where(lo < 0, side, np.where(hi > side, -side, 0))
    outer, inner = (np.round(shape * 16).astype(np.int32) for shape in (rings, lits))
    for i, colour in enumerate(ink.tolist()):
        for ox in dict.fromkeys((0, int(wraps[i, 0]))):
            for oy in dict.fromkeys((0, int(wraps[i, 1]))):
                if ox or oy:
                    shift = np.array([ox, oy])
                    own, top = (
                        np.round((shape[i] + shift) * 16).astype(np.int32)
                        for shape in (rings, lits)
                    )
                else:
                    own, top = outer[i], inner[i]
                cv2.fillPoly(picture, [own], colour, cv2.LINE_AA, 4)
                cv2.fillPoly(picture, [top], lit_ink[i], cv2.LINE_AA, 4)
