"""Solid wood: the colour of any point inside the board, from rings, rays, pores and sap."""

from dataclasses import dataclass

import numpy as np

from tests.render.knots import Knots
from tests.render.noise import F32, Waves, dim, ink_over, noise_3d, smoothstep
from tests.render.shape import Shape


def linear(colour: tuple[float, float, float] | str) -> F32:
    """Return linear-light RGB (0..1) of an sRGB colour (0..255 or #rrggbb)."""
    if isinstance(colour, str):
        colour = tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))  # type: ignore[assignment]
    c = np.asarray(colour, dtype=np.float32) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4).astype(np.float32)


@dataclass(frozen=True)
class Palette:
    """How a species looks, sawn and dry; colours as sRGB, judged by eye."""

    heart: tuple[float, float, float]
    sap: tuple[float, float, float]
    dark: tuple[float, float, float]  # the dark part of a ring, heartwood
    sap_dark: tuple[float, float, float]
    knot: tuple[float, float, float]
    ring: float  # strength of the ring's contrast
    early: float  # share of a ring that is porous earlywood
    pores: float  # strength of pores in the earlywood
    late_pores: float  # and in the rest
    pore_mm: float  # length of a vessel line
    rays: float
    uneven: float  # slow changes of colour from place to place


PALETTES = {
    "white ash": Palette(
        heart=(198, 170, 134),
        sap=(224, 206, 176),
        dark=(144, 108, 72),
        sap_dark=(172, 141, 102),
        knot=(112, 76, 48),
        ring=1.0,
        early=0.34,
        pores=0.75,
        late_pores=0.05,
        pore_mm=9,
        rays=0.1,
        uneven=0.08,
    ),
    "walnut": Palette(
        heart=(126, 100, 80),
        sap=(190, 168, 138),
        dark=(70, 52, 42),
        sap_dark=(146, 122, 96),
        knot=(56, 40, 31),
        ring=0.72,
        early=0.5,
        pores=0.45,
        late_pores=0.3,
        pore_mm=11,
        rays=0.1,
        uneven=0.15,
    ),
    "hard maple": Palette(
        heart=(184, 152, 118),
        sap=(225, 204, 172),
        dark=(142, 106, 76),
        sap_dark=(186, 150, 110),
        knot=(104, 72, 48),
        ring=0.62,
        early=0.9,
        pores=0.18,
        late_pores=0.12,
        pore_mm=4,
        rays=0.5,
        uneven=0.07,
    ),
}


class Wood:
    """The solid from which every surface of one board is cut."""

    def __init__(self, shape: Shape) -> None:
        board = shape.board
        self.shape = shape
        self.palette = PALETTES[board.species]
        self.knots = Knots(shape)
        rng = np.random.default_rng((board.seed, 211))
        self.seed = int(rng.integers(1 << 20))
        self._rings(rng)
        s = [int(rng.integers(1 << 30)) for _ in range(8)]
        self._swell = Waves(s[0], (1500.0, 130.0, 130.0))
        self._ripple = Waves(s[1], (420.0, 34.0, 34.0))
        self._fine = Waves(s[2], (150.0, 9.0, 9.0))
        self._sap_edge = Waves(s[3], (500.0, 60.0, 60.0))
        self._cloud = Waves(s[4], (420.0, 60.0, 60.0))
        self._tint = Waves(s[5], (900.0, 90.0, 90.0))
        self._streak = Waves(s[6], (1400.0, 14.0, 14.0))

    def _rings(self, rng: np.random.Generator) -> None:
        mean = self.shape.board.ring_mm
        radii, drift = [0.0], 0.0
        while radii[-1] < 620:
            drift = 0.8 * drift + rng.normal(0, 0.16)
            radii.append(radii[-1] + mean * float(np.exp(drift + rng.normal(0, 0.16))))
        self._radii = np.array(radii)
        self._tone = (
            (1 + 0.3 * rng.standard_normal(len(radii) + 1)).clip(0.3, 1.8).astype(np.float32)
        )

    def ring_field(self, x: F32, y: F32, z: F32) -> tuple[F32, F32, F32, F32]:
        """Return ring radius (mm), distance from the pith, y along the grain flow, wildness."""
        py, pz = self.shape.log.pith(x)
        dy, dz = y - py, z - pz
        away = np.sqrt(dy * dy + dz * dz)
        bump, flow_y, flow_z, wild = self.knots.deflect(x, y, z)
        # The grain near a knot is the grain of the place it was pushed from.
        ys, zs = y + flow_y, z + flow_z
        warp = 2.2 * self._swell.at(x, ys, zs) + 0.8 * self._ripple.at(x, ys, zs)
        warp += 0.16 * self._fine.at(x, ys, zs)
        radius = away + self.shape.log.taper * x + warp * np.minimum(away / 25, 1) - bump
        return np.maximum(radius, 0), away, ys, wild

    def albedo(self, x: F32, y: F32, z: F32) -> F32:
        """Return linear RGB, shape (N, 3), of points inside the wood; cracks and spots not yet."""
        p = self.palette
        radius, away, ys, wild = self.ring_field(x, y, z)
        zs = z
        phase = np.interp(radius, self._radii, np.arange(len(self._radii))).astype(np.float32)
        index = phase.astype(np.int32)
        part = phase - np.floor(phase)  # less an integer it would be double from here on
        tone = self._tone[index]
        early = np.clip(1 - part / np.float32(p.early), 0, 1)
        rise = smoothstep(0.0, 0.04, part)  # the sudden step where a ring begins
        late_line = smoothstep(0.72, 0.99, part) * (1 - smoothstep(0.985, 1.0, part))
        pores = noise_3d(self.seed + 1, x, ys, zs, (p.pore_mm, 0.42, 0.42))
        pores = np.clip((pores - 0.35) * 1.1, 0, 1.6)
        fibre = noise_3d(self.seed + 2, x, ys, zs, (38.0, 0.8, 0.8))
        streak = noise_3d(self.seed + 3, x, ys, zs, (190.0, 3.2, 3.2))
        fuzz = noise_3d(self.seed + 4, x, y, z, (2.2, 0.5, 0.5))
        if self.shape.board.species == "white ash":
            dark = early * rise * (0.5 + p.pores * pores) + 0.1 * part + p.late_pores * pores
        elif self.shape.board.species == "walnut":
            dark = (
                0.55 * part * part
                + 0.75 * late_line
                + pores * (p.pores * early * rise + p.late_pores * 0.6)
            )
        else:
            dark = 0.95 * late_line + 0.25 * part + p.late_pores * pores
            fleck = noise_3d(self.seed + 5, x, y, z, (2.6, 0.35, 1.6))
            dark += p.rays * 0.35 * np.clip(fleck - 1.1, 0, 1)
        dark = p.ring * tone * dark + 0.05 * fibre + 0.05 * streak
        dark += 0.07 * self._streak.at(x, ys, zs)
        dark = np.clip(dark, -0.25, 1.1)
        heart, sap = linear(p.heart), linear(p.sap)
        sap_mix = self._sap_share(x, y, z, away)
        dark_h, dark_s = linear(p.dark), linear(p.sap_dark)
        colour = np.empty((len(x), 3), dtype=np.result_type(sap_mix, dark, np.float32))
        for k in range(3):
            light_c = heart[k] + (sap[k] - heart[k]) * sap_mix
            dark_c = dark_h[k] + (dark_s[k] - dark_h[k]) * sap_mix
            colour[:, k] = light_c + (dark_c - light_c) * dark
        cloud = np.float32(p.uneven) * self._cloud.at(x, ys, zs) + 0.05 * fuzz
        dim(colour, np.exp(0.6 * cloud))
        tint = 0.02 * self._tint.at(x, ys, zs)
        for k, share in ((0, 1.0), (2, -1.3)):
            colour[:, k] *= np.exp(share * tint)
        dim(colour, 1 - 0.18 * np.clip(wild, 0, 1))
        ink_over(colour, linear((92, 62, 40)), np.exp(-((away / 3.0) ** 2)))
        return self.knots.paint(colour, x, y, z, linear(p.knot))

    def _sap_share(self, x: F32, y: F32, z: F32, away: F32) -> F32:
        b = self.shape.board
        outer = self.shape.wood_radius(x).astype(np.float32) if b.wane else np.float32(b.log_mm)
        border = outer - b.sap_mm + 4.0 * self._sap_edge.at(x, y, z)
        border = border + 1.1 * noise_3d(self.seed + 7, x, y, z, (120.0, 2.2, 2.2))
        return smoothstep(-2.6, 2.6, away - border)
