"""What saw, weather, dirt and bark make of the board's surfaces; relief included."""

import numpy as np

from tests.render.cracks import Marks
from tests.render.marks import Mark
from tests.render.noise import F32, Waves, dim, ink_over, noise_2d, noises_2d, smoothstep, tinted
from tests.render.shape import Shape
from tests.render.wood import Wood, linear

FACE_1, FACE_2, EDGE_LOW, EDGE_HIGH, END_A, END_B = range(6)


class Saw:
    """Marks of one cut: scratches a few mm apart, straight (band) or bowed (circular)."""

    def __init__(self, seed: int, kind: str) -> None:
        rng = np.random.default_rng((seed, 61))
        self._kind = kind
        self._radius = float(rng.uniform(380, 650))
        self._centre = float(rng.normal(0, 130))
        self._lean = float(rng.normal(0, 0.06))
        n = 4096
        pitch = float(rng.uniform(4.0, 7.5) if kind == "circular" else rng.uniform(2.2, 4.5))
        step = 0.5
        x = np.arange(n) * step
        drift = np.cumsum(rng.standard_normal(n)) * 0.03
        height = np.sin(2 * np.pi * (x / pitch + drift))
        white = rng.standard_normal(n)
        k = np.fft.rfftfreq(n, step)
        band = np.exp(-0.5 * ((k - 0.6 / pitch) / (0.35 / pitch)) ** 2)
        rough = np.fft.irfft(np.fft.rfft(white) * band, n)
        slow = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * np.exp(-((k * 180) ** 2)), n)
        teeth = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * np.exp(-((k * 1.2) ** 2)), n)
        height = height * 0.12 + 0.9 * rough / rough.std() + 0.3 * teeth / teeth.std()
        height *= 0.6 + 0.5 * np.clip(slow / slow.std(), -1, 1.5)
        # A deeper score now and then, where the saw stopped or a tooth stood out.
        for _ in range(14):
            at = rng.uniform(0, n * step)
            height -= rng.uniform(1.5, 4) * np.exp(-(((x - at) / rng.uniform(0.5, 1.4)) ** 2))
        self._height = height.astype(np.float32)
        self._slope = (np.gradient(height, step) * 0.15).astype(np.float32)  # height unit: 0.1 mm
        self._period = np.float32(n * step)
        self._seed = int(rng.integers(1 << 20))

    def at(self, x: F32, y: F32) -> tuple[F32, F32]:
        """Return relative height and slope along x of the cut surface."""
        run = x + np.float32(self._lean) * y
        if self._kind == "circular":
            away = y - np.float32(self._centre)
            run = run + np.sqrt(np.maximum(self._radius**2 - away * away, 1.0)).astype(np.float32)
        run = run + np.float32(0.7) * noise_2d(self._seed, x, y, 30.0)
        run = run + np.float32(1.8) * noise_2d(self._seed + 3, x, y, 170.0)
        at = run - self._period * np.floor(run / self._period)
        cells = at * np.float32(2.0)
        index = cells.astype(np.int32) % len(self._height)
        after = (index + 1) % len(self._height)
        part = cells - np.floor(cells)
        # Teeth wander and tear: marks come in patches and break off across the board.
        strength = 0.6 + 0.5 * noise_2d(self._seed + 1, x, y, 110.0)
        strength = strength + 0.4 * noise_2d(self._seed + 2, x * 0.8, y * 0.5, 26.0)
        strength = np.clip(strength, 0.0, 1.8)
        height = self._height[index] * (1 - part) + self._height[after] * part
        slope = self._slope[index] * (1 - part) + self._slope[after] * part
        return height * strength, slope * strength


class Surfaces:
    """The colours and the relief of every surface of one board."""

    def __init__(self, shape: Shape) -> None:
        board = shape.board
        rng = np.random.default_rng((board.seed, 307))
        self.shape, self.wood, self.marks = shape, Wood(shape), Marks(shape)
        self._saws = {f: Saw(int(rng.integers(1 << 30)), board.saw) for f in (FACE_1, FACE_2)}
        edge_saw = "circular"
        for f in (EDGE_LOW, EDGE_HIGH):
            self._saws[f] = Saw(int(rng.integers(1 << 30)), edge_saw)
        self._seeds = {f: int(rng.integers(1 << 20)) for f in range(6)}
        self._weather = {
            f: float(np.clip(board.weather * rng.uniform(0.5, 1.4), 0, 1)) for f in range(6)
        }
        self._patchy = Waves(int(rng.integers(1 << 30)), (700.0, 160.0, 100.0))
        self._chalk = tuple(Mark(shape, m) for m in board.marks)
        self._coat = board.coated_ends
        self._coat_mm = float(rng.uniform(1.5, 12))

    def shade(
        self, x: F32, y: F32, z: F32, side: int, footprint: F32 | float
    ) -> tuple[F32, F32, F32]:
        """Return linear albedo (N, 3), slope along x and slope across of points of one surface."""
        board = self.shape.board
        colour = self.wood.albedo(x, y, z)
        along, across = x, y
        if side in (EDGE_LOW, EDGE_HIGH):
            across = z
        elif side in (END_A, END_B):
            along, across = z, y
        seed = self._seeds[side]
        hx = np.zeros(x.shape, dtype=np.float32)
        hy = 0.05 * noise_2d(seed, along, across * 3, 2.0)
        height = hx
        if side in self._saws:
            height, hx = self._saws[side].at(along, across)
            dim(colour, np.exp(0.020 * height))
            hx = hx + 0.04 * noise_2d(seed + 9, along, across, 1.5)
        else:
            colour = colour**1.12 * 0.62  # end grain drinks the light
            ring_saw = noise_2d(seed + 8, along * 0.2, across, 1.6)
            dim(colour, np.exp(0.07 * ring_saw))
        # Fuzz and torn fibre: short pale or dark hairs along the grain.
        hair = noise_2d(seed + 1, along * 0.09, across, 0.9)
        torn = noise_2d(seed + 2, along, across, 70.0)
        dim(colour, np.exp(0.055 * hair * (1 + 0.5 * torn)))
        speck = noise_2d(seed + 3, along, across, 1.3)
        dim(colour, 1 - 0.22 * smoothstep(2.1, 2.9, speck) * board.dirt)
        colour = self._weathered(colour, x, y, z, along, across, side)
        colour = self.marks.paint(colour, x, y, z, footprint)
        if board.wane is not None:
            colour = self._bark(colour, x, y, z, side)
        for mark in self._chalk:
            if side == (FACE_1 if mark.spec.face == 1 else FACE_2):
                mark.paint(colour, x, y, height)
        if self._coat:
            colour = self._coated(colour, x, y, side)
        return np.clip(colour, 0.004, 0.95), hx, hy

    def _weathered(
        self, colour: F32, x: F32, y: F32, z: F32, along: F32, across: F32, side: int
    ) -> F32:
        board, seed = self.shape.board, self._seeds[side]
        slow = self._patchy.at(x, y, z)
        grey_share = self._weather[side] * 0.62 * np.clip(0.75 + 0.3 * slow, 0.1, 1.2)
        luma = colour @ np.float32([0.3, 0.59, 0.11])
        grey = (luma[:, None] * 0.82 + 0.02) * np.float32([1.0, 0.965, 0.91])
        colour += tinted(grey - colour, grey_share)
        blot = noise_2d(seed + 4, along, across, 55.0) + 0.6 * noise_2d(
            seed + 5, along, across, 17.0
        )
        dirt = board.dirt * 0.22 * smoothstep(0.6, 2.4, blot)
        hand = board.dirt * 0.05 * noise_2d(seed + 6, along, across, 160.0)
        dim(colour, 1 - dirt - hand)
        # Handled, dragged and walked on: grey rubs, pale scuffs, all at odds with the grain.
        use = noises_2d(seed + 21, along, across, 85.0, 0.4)
        drag = noise_2d(seed + 22, along * 0.25 + across * 0.2, across - 0.15 * along, 9.0)
        rub = smoothstep(0.7, 2.2, use[:, 0]) * smoothstep(0.2, 1.6, drag + 0.5 * use[:, 1])
        pale = smoothstep(1.0, 2.2, use[:, 2]) * smoothstep(0.6, 1.8, -drag)
        dim(colour, 1 - board.dirt * 0.30 * rub)
        ink_over(colour, np.float32([0.44, 0.41, 0.36]), 0.16 * board.dirt * pale)
        dust = 0.05 * board.dirt * smoothstep(0.2, 1.6, noise_2d(seed + 7, along, across, 26.0))
        ink_over(colour, np.float32([0.42, 0.38, 0.33]), dust)
        # Ends dry, crack and go dark first.
        end = np.minimum(x - self.shape.end(y, "A"), self.shape.end(y, "B") - x)
        dim(colour, 1 - 0.13 * self._weather[side] * np.exp(-np.clip(end, 0, None) / 22))
        return colour

    def _bark(self, colour: F32, x: F32, y: F32, z: F32, side: int) -> F32:
        wane = self.shape.board.wane
        assert wane is not None
        low = EDGE_LOW if wane.side < 0 else EDGE_HIGH
        near = (
            np.nonzero((y - self.shape.middle(x)) * wane.side > 0)[0]
            if side != low
            else np.arange(len(x))
        )
        if not len(near):
            return colour
        xs, ys, zs = x[near], y[near], z[near]
        py, pz = self.shape.log.pith(xs)
        past = np.hypot(ys - py, zs - pz) - self.shape.wood_radius(xs)
        # The log's round surface exists on this side of the pith only.
        beyond = (ys - self.shape.edge(xs, zs, wane.side, with_bark=False)) * wane.side
        past = np.minimum(past, beyond + 0.3)
        torn = noise_2d(self._seeds[low] + 44, xs, ys - zs, 16.0)
        bark = smoothstep(-0.3, 0.5, past.astype(np.float32))
        bark = bark * smoothstep(
            -0.1, 0.1, self.shape.bark_mm(xs) / wane.bark_mm - 0.4 + 0.3 * torn
        )
        seed = self._seeds[low] + 40
        around = np.arctan2(zs - pz, (ys - py) * wane.side) * self.shape.wood_radius(xs)
        around = around.astype(np.float32)
        ridge = noise_2d(seed, xs * 0.22, around, 5.0) + 0.5 * noise_2d(
            seed + 1, xs * 0.6, around, 2.0
        )
        base = np.float32([0.092, 0.068, 0.050]) * np.exp(0.30 * ridge)[:, None]
        base *= np.exp(0.22 * noise_2d(seed + 2, xs, around, 30.0))[:, None]
        flakes = noise_2d(seed + 5, xs, around, 1.4) + noise_2d(seed + 6, xs * 0.5, around, 3.0)
        base *= np.exp(0.20 * flakes - 0.5 * smoothstep(1.2, 2.2, ridge))[:, None]
        local = colour[near]
        if side == low:  # bare wane: the smooth surface under the bark, browned and streaked
            bare = smoothstep(-1.6, -0.2, past.astype(np.float32))
            bare = bare * (self.shape.wane_mm(xs) > 0.3)
            brown = (
                np.float32([0.20, 0.125, 0.07])
                * np.exp(0.22 * noise_2d(seed + 3, xs * 0.12, around, 2.2))[:, None]
            )
            local = local + (brown - local) * (0.8 * bare)[:, None]
        colour[near] = local + (base - local) * bark[:, None]
        return colour

    def _coated(self, colour: F32, x: F32, y: F32, side: int) -> F32:
        paint = linear(self._coat)
        end = np.minimum(x - self.shape.end(y, "A"), self.shape.end(y, "B") - x)
        brush = noise_2d(self._seeds[side] + 11, x * 0.3, y, 45.0)
        slop = self._coat_mm * (0.55 * brush - 0.1)
        cover = (
            smoothstep(1.0, -1.0, (end - slop).astype(np.float32))
            if side not in (END_A, END_B)
            else (smoothstep(-1.4, -0.6, noise_2d(self._seeds[side] + 12, x + y, y, 6.0)))
        )
        return colour + (paint - colour) * (0.85 * cover)[:, None]
