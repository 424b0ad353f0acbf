"""Small surfaces made by hand: even wood with saw marks, pores, specks and cracks."""

import numpy as np

from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface
from scanner.vision.grain import GrainField

CLEAR = 0.45


class Wood:
    """A face of some mm at the working scale; ``light`` is linear, ``CLEAR`` in clear wood."""

    def __init__(self, length_mm=300.0, width_mm=60.0, noise=0.02, seed=0):
        self.shape = (round(width_mm / WORK_MM_PER_PX), round(length_mm / WORK_MM_PER_PX))
        rng = np.random.default_rng(seed)
        self.light = CLEAR * (1 + noise * rng.standard_normal(self.shape))
        rows, columns = np.indices(self.shape)
        self.y, self.x = rows * WORK_MM_PER_PX, columns * WORK_MM_PER_PX

    def darken(self, weight):
        """Take away a share of the light."""
        self.light = self.light * (1 - weight)

    def saw_mark(self, x, share=0.3):
        self.darken(share * np.exp(-(((self.x - x) / 0.7) ** 2)))

    def pore_line(self, y, share=0.3):
        self.darken(share * np.exp(-(((self.y - y) / 0.7) ** 2)))

    def speck(self, x, y, size=3.0, share=0.85):
        away = np.hypot(self.x - x, self.y - y)
        self.darken(share / (1 + np.exp(np.minimum((away - size / 2) / 0.25, 50))))

    def crack(self, y, reach, wide, from_right=False):
        """Open a crack that tapers to its tip: what it covers of a pixel is black."""
        along = self.x.max() - self.x if from_right else self.x
        half = 0.5 * wide * np.clip(1 - along / reach, 0, 1) ** 0.6
        edge = WORK_MM_PER_PX / 2
        low = np.maximum(self.y - edge, y - half)
        high = np.minimum(self.y + edge, y + half)
        self.darken(0.95 * np.clip((high - low) / WORK_MM_PER_PX, 0, 1))

    def surface(self):
        lab = np.zeros((*self.shape, 3), np.float32)
        lab[..., 0] = 116 * np.cbrt(np.clip(self.light, 0.01, 1)) - 16
        flat = np.zeros(self.shape, np.float32)
        return Surface(
            origin_mm=(0.0, 0.0),
            wood=np.ones(self.shape, bool),
            lab=lab,
            darker=flat,
            darker_around=flat,
            tint=flat,
            light_spread=1.0,
            grain=GrainField(flat, flat),
            u_mm=0.5,
        )
