"""Small painted faces on a floor, with their truth: quick ground for the finders' tests.

Not a picture of real wood, only what a finder must cope with: streaks along the grain, pores, saw
marks, noise; beyond the arris a side face, a cast shadow and a speckled floor.
"""

import copy
from dataclasses import dataclass, field
from functools import lru_cache, partial

import cv2
import numpy as np
from scipy import fft
from shapely.geometry import Polygon

from scanner.vision.photos.picture import FacePicture

PALE = (205, 182, 146)
BROWN = (112, 82, 60)
CONCRETE = (150, 148, 143)
PLYWOOD = (190, 160, 118)
# Streaks longer than this are blurred by cosines.
_LONG_PX = 30


def _noise(rng, shape, mm_per_px, along_mm, across_mm):
    raw = rng.standard_normal(shape).astype(np.float32)
    along, across = max(along_mm / mm_per_px, 0.3), max(across_mm / mm_per_px, 0.3)
    if along > _LONG_PX:
        soft = _soft_along(cv2.GaussianBlur(raw, (1, 0), 0.3, sigmaY=across), along)
    else:
        soft = cv2.GaussianBlur(raw, (0, 0), along, sigmaY=across)
    return soft / (soft.std() + 1e-9)


def _soft_along(raw, sigma_px):
    """Return OpenCV's Gaussian blur along x, by cosines: its cost does not grow with sigma."""
    reach = round(4 * sigma_px)
    weights = cv2.getGaussianKernel(2 * reach + 1, sigma_px)[:, 0]
    # Mirrored at its ends the row repeats after this many pixels.
    period = 2 * (raw.shape[1] - 1)
    folded = np.bincount(np.arange(-reach, reach + 1) % period, weights, minlength=period)
    damping = np.fft.rfft(folded).real.astype(np.float32)
    return fft.idct(fft.dct(raw, type=1, axis=1) * damping, type=1, axis=1)


@lru_cache(maxsize=8)
def _unrest(seed, shape, mm_per_px):
    """Return a board's figure, its floor's blots (both H, W) and the draw as it stands after.

    Kept, as most faces here are of one size and seed.
    """
    rng = np.random.default_rng(seed)
    noise = partial(_noise, rng, shape, mm_per_px)
    grain = noise(150, 2.0) * 5 + noise(400, 9.0) * 6
    pores = noise(4, 0.35) * 4
    saw = noise(0.8, 60) * 2
    blots = noise(30, 30) * 8 + noise(0.8, 0.8) * 7
    return grain + pores + saw, blots, rng


@dataclass
class PaintedFace:
    """A board of ``length_mm`` by ``width_mm`` with ``margin_mm`` of floor all round."""

    length_mm: float = 700.0
    width_mm: float = 150.0
    mm_per_px: float = 0.5
    margin_mm: float = 60.0
    wood: tuple[int, int, int] = PALE
    floor: tuple[int, int, int] = CONCRETE
    side_mm: float = 0.0
    side_light: float = 0.6
    shadow_mm: float = 0.0
    shadow_light: float = 0.45
    slant_mm: float = 0.0
    crook_mm: float = 0.0
    seed: int = 0
    pixels: np.ndarray = field(init=False)

    def __post_init__(self):
        m = self.mm_per_px
        h = round((self.width_mm + 2 * self.margin_mm) / m)
        w = round((self.length_mm + 2 * self.margin_mm) / m)
        self.x, self.y = np.meshgrid(np.arange(w) * m, np.arange(h) * m)
        figure, blots, rng = _unrest(self.seed, (h, w), m)
        board = np.asarray(self.wood, float) * (1 + figure[..., None] / 150)
        floor = np.asarray(self.floor, float) * (1 + blots[..., None] / 150)
        self._board = board
        top = np.array([self.upper(x) for x in self.x[0]])
        on = self.mask()
        picture = floor
        if self.shadow_mm:
            shade = (self.y >= top - self.shadow_mm) & (self.y < top + 1) & self._within()
            picture = np.where(shade[..., None], picture * self.shadow_light, picture)
        if self.side_mm:
            bottom = top + self.width_mm
            side = (self.y > bottom - 1) & (self.y < bottom + self.side_mm) & self._within()
            picture = np.where(side[..., None], board[::-1] * self.side_light, picture)
        picture = np.where(on[..., None], board, picture)
        self._rng = copy.deepcopy(rng)
        self.pixels = picture

    def _within(self):
        return (self.x > self.margin_mm) & (self.x < self.margin_mm + self.length_mm)

    def upper(self, x):
        """Return y of the upper arris."""
        share = np.clip((x - self.margin_mm) / self.length_mm, 0, 1)
        return self.margin_mm + self.crook_mm * (4 * share * (1 - share) - 0.5)

    @property
    def outline(self):
        xs = np.linspace(0, self.length_mm, 60) + self.margin_mm
        upper = [(x, self.upper(x)) for x in xs]
        lower = [(x, self.upper(x) + self.width_mm) for x in xs]
        lower[-1] = (lower[-1][0] - self.slant_mm, lower[-1][1])
        lower = [(min(x, lower[-1][0]), y) for x, y in lower]
        return Polygon([*upper, *lower[::-1]])

    def mask(self, shape=None):
        canvas = np.zeros(self.x.shape, np.uint8)
        ring = np.asarray((shape or self.outline).exterior.coords) / self.mm_per_px
        cv2.fillPoly(canvas, [np.round(ring * 16).astype(np.int32)], 1, shift=4)
        return canvas.astype(bool)

    def darken(self, where, light, tint=(1.0, 1.0, 1.0)):
        """Multiply pixels by ``light`` (an array or number) where the mask holds, softly."""
        soft = cv2.GaussianBlur(where.astype(np.float32), (0, 0), 0.8)[..., None]
        self.pixels = self.pixels * (1 + soft * (light * np.asarray(tint) - 1))

    def knot(self, x, y, size, light=0.45, turn=True):
        """Paint a knot of ``size`` mm at (x, y) mm of the board, the grain flowing round it."""
        x, y = x + self.margin_mm, y + self.margin_mm
        d_x, d_y = self.x - x, self.y - y
        r = np.hypot(d_x, d_y) + 1e-6
        if turn:
            # Each pixel takes its wood from nearer the knot's own line: streaks part round it.
            push = 0.8 * size / 2 * np.exp(-((d_x / size) ** 2)) * np.exp(-np.abs(d_y) / size)
            source = (self.y - np.sign(d_y) * push).astype(np.float32) / self.mm_per_px
            column = self.x.astype(np.float32) / self.mm_per_px
            turned = cv2.remap(self.pixels.astype(np.float32), column, source, cv2.INTER_LINEAR)
            near = (np.abs(d_x) < 3 * size) & (np.abs(d_y) < 2.2 * size) & self.mask()
            self.pixels = np.where(near[..., None], turned, self.pixels)
        rings = 1 + 0.12 * np.sin(r / 1.3)
        self.darken(r < size / 2, (light * rings)[..., None])
        self.darken((r < size / 2) & (r > size / 2 - 1.2), 0.75)
        return Polygon(
            [(x + size / 2 * np.cos(t), y + size / 2 * np.sin(t)) for t in np.linspace(0, 6.2, 40)]
        )

    def picture(self, noise=3.0, blur_mm=0.4):
        """Return the face as a `FacePicture`."""
        soft = cv2.GaussianBlur(self.pixels, (0, 0), max(blur_mm / self.mm_per_px, 0.3))
        seen = np.clip(soft + self._rng.normal(0, noise, soft.shape), 0, 255).astype(np.uint8)
        return FacePicture(
            seen, self.mm_per_px, (0.0, 0.0), 0.001, 0.5, np.ones(seen.shape[:2], bool)
        )


@dataclass
class PaintedGround:
    """A floor of 3.2 x 1.4 m at 4 mm per pixel with a rule along x and boards laid beside it."""

    floor: tuple[int, int, int] = CONCRETE
    seed: int = 0
    mm_per_px: float = 4.0
    size_mm: tuple[float, float] = (3200.0, 1400.0)

    def __post_init__(self):
        rng = np.random.default_rng(self.seed)
        w, h = (round(v / self.mm_per_px) for v in self.size_mm)
        self._rng = rng
        noise = rng.standard_normal((h, w)).astype(np.float32)
        blots = cv2.GaussianBlur(rng.standard_normal((h, w)).astype(np.float32), (0, 0), 12)
        unrest = 1 + noise * 0.05 + blots / blots.std() * 0.05
        self.pixels = np.asarray(self.floor, float) * unrest[..., None]
        self.rule_area = Polygon([(600, 640), (2800, 640), (2800, 670), (600, 670)])
        self._fill(self.rule_area, (225, 225, 225), 0.0)

    def _fill(self, shape, colour, streak):
        canvas = np.zeros(self.pixels.shape[:2], np.uint8)
        cv2.fillPoly(
            canvas, [np.round(np.asarray(shape.exterior.coords) / self.mm_per_px).astype(int)], 1
        )
        rows = self._rng.standard_normal(self.pixels.shape[:2]).astype(np.float32)
        streaks = cv2.GaussianBlur(rows, (0, 0), 60, sigmaY=1.0)
        wood = np.asarray(colour, float) * (1 + streak * streaks / streaks.std())[..., None]
        self.pixels = np.where(canvas[..., None] > 0, wood, self.pixels)

    def board(self, x, y, length, width, angle_deg=0.0, colour=PALE):
        """Lay a board with its upper left corner at (x, y) mm; return its rectangle."""
        c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
        shape = Polygon(
            [
                (x + u * c - v * s, y + u * s + v * c)
                for u, v in ((0, 0), (length, 0), (length, width), (0, width))
            ]
        )
        self._fill(shape, colour, 0.06)
        return shape

    def picture(self):
        seen = np.clip(self.pixels + self._rng.normal(0, 3, self.pixels.shape), 0, 255)
        return FacePicture(
            seen.astype(np.uint8),
            self.mm_per_px,
            (0.0, 0.0),
            0.001,
            0.5,
            np.ones(seen.shape[:2], bool),
        )
