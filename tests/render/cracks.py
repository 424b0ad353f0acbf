"""Cracks and spots: checks and splits as thin radial wedges, holes, bark pockets, stains."""

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, noise_2d, smoothstep
from tests.render.shape import Shape
from tests.render.specs import CrackSpec, SpotSpec

_BLACK = np.float32([0.010, 0.008, 0.007])
_BARK = np.float32([0.030, 0.020, 0.014])


class Crack:
    """One crack in the model frame."""

    def __init__(self, shape: Shape, spec: CrackSpec) -> None:
        self.spec, self._shape = spec, shape
        rng = np.random.default_rng((spec.seed, 3))
        board = shape.board
        x_end = {"A": 0.0, "B": board.length_mm, "": spec.x}[spec.end]
        py, pz = (float(v) for v in shape.log.pith(np.float32(x_end)))
        deep = board.thickness_mm / 2 - pz
        deep = np.copysign(max(abs(deep), 12.0), deep)
        # Radial: the crack points at the pith; near the pith itself it only leans.
        self._lean = float(np.clip((spec.y - py) / deep, -0.9, 0.9))
        self._pith_y = py
        self._ring = float(np.hypot(spec.y - py, deep)) if spec.kind == "shake" else 0.0
        if self._ring:
            self._lean = 0.0
        self._wiggle = [
            (long, rng.uniform(0, 6.28), long * rng.uniform(0.002, 0.010))
            for long in rng.uniform(14, 160, 5)
        ]
        self._slope = float(rng.normal(0, 0.006))

    def centre(self, x: NDArray, z: NDArray | float) -> NDArray:
        """Return y of the crack's middle at x and height z."""
        half = self._shape.board.thickness_mm / 2
        py, pz = self._shape.log.pith(x)
        if self._ring:  # along one ring of the tree
            away = np.sqrt(np.maximum(self._ring**2 - (z - pz) ** 2, 1.0))
            y = py + np.copysign(1.0, self.spec.y - self._pith_y) * away
        else:
            y = self.spec.y + self._lean * (z - half) + 0.8 * (py - self._pith_y)
        from_end = self.from_end(x, np.float32(self.spec.y))
        y = y + self._slope * from_end
        for long, phase, size in self._wiggle:
            y = y + size * (np.sin(2 * np.pi * x / long + phase) - np.sin(phase))
        return y

    def from_end(self, x: NDArray, y: NDArray) -> NDArray:
        """Return the distance from the crack's end of the board (surface checks: its middle)."""
        if self.spec.end == "":
            return np.abs(x - self.spec.x)
        at = self._shape.end(y, self.spec.end)
        return x - at if self.spec.end == "A" else at - x

    def opening(self, x: NDArray, y: NDArray, z: NDArray | float) -> NDArray:
        """Return how wide the crack gapes (mm) at points along it; 0 past its tip."""
        s, t = self.spec, self._shape.board.thickness_mm
        along = self.from_end(x, y)
        if s.end == "":
            deep = z if s.face == 1 else t - z
            left = np.clip(1 - along / (s.reach1 / 2), 0, 1) * (deep < 0.35 * t)
            return s.width * np.sqrt(left)
        reach = s.reach1 + (s.reach2 - s.reach1) * (z / t)
        return s.width * np.clip(1 - along / reach, 0, 1) ** 0.65

    def cover(self, x: F32, y: F32, z: F32, footprint: F32 | float) -> F32:
        """Return the share (0..1) of each point's footprint (mm) that is crack."""
        reach = max(self.spec.reach1, self.spec.reach2)
        rough = (self.from_end(x, y) < reach) & (np.abs(y - self.spec.y) < 45)
        at = np.nonzero(rough)[0]
        total = np.zeros(x.shape, dtype=np.float32)
        if len(at):
            xs, ys, zs = x[at], y[at], z[at]
            off = (ys - self.centre(xs, zs)) / np.sqrt(1 + self._lean**2)
            wide = self.opening(xs, ys, zs)
            fp = np.asarray(footprint if np.isscalar(footprint) else footprint[at])
            low = np.maximum(off - fp / 2, -wide / 2)
            high = np.minimum(off + fp / 2, wide / 2)
            total[at] = np.clip((high - low) / fp, 0, 1)
        return total

    def outline(self, z: float, least_mm: float = 0.8) -> NDArray[np.float64] | None:
        """Return the crack's polygon on the face at height z, or None where it does not show."""
        s, t = self.spec, self._shape.board.thickness_mm
        if s.end == "":
            if z != (0.0 if s.face == 1 else t):
                return None
            x = np.linspace(s.x - s.reach1 / 2, s.x + s.reach1 / 2, 40)
        else:
            reach = s.reach1 if z == 0 else s.reach2
            start = float(self._shape.end(np.float64(s.y), s.end))
            x = np.linspace(start, start + (reach if s.end == "A" else -reach), 40)
        y = self.centre(x, z)
        for _ in range(2):
            half = np.maximum(self.opening(x, y, z), least_mm) / 2
        shape_low = np.maximum(y - half, self._shape.edge(x, z, -1))
        shape_high = np.minimum(y + half, self._shape.edge(x, z, 1))
        if not (shape_high > shape_low).all():
            keep = shape_high > shape_low
            if keep.sum() < 3:
                return None
            x, shape_low, shape_high = x[keep], shape_low[keep], shape_high[keep]
        ring = np.vstack([np.column_stack([x, shape_low]), np.column_stack([x, shape_high])[::-1]])
        return ring.astype(np.float64)


class Spot:
    """A hole, bark pocket or stain."""

    def __init__(self, shape: Shape, spec: SpotSpec) -> None:
        self.spec, self._shape = spec, shape

    def share(self, x: F32, y: F32, z: F32) -> F32:
        """Return the spot's measure: 1 on its rim, less inside."""
        s = self.spec
        dx, dy, dz = (x - s.x) / s.size[0], (y - s.y) / s.size[1], (z - s.z) / s.size[2]
        if s.kind == "hole":
            return np.where(np.abs(dz) <= 1, np.sqrt(dx * dx + dy * dy), 9.0).astype(np.float32)
        if s.look == "sticker":
            wave = 0.12 * noise_2d(s.seed, x, y, 40.0)
            return np.maximum(np.abs(dx + 0.02 * dy), np.abs(dz)).astype(np.float32) + wave
        wobble = 1 + 0.18 * noise_2d(
            s.seed, x * np.float32(s.size[1] / s.size[0]), y, 1.2 * s.size[1]
        )
        return (np.sqrt(dx * dx + dy * dy + dz * dz) * wobble).astype(np.float32)

    def paint(self, colour: F32, x: F32, y: F32, z: F32, species: str) -> None:
        """Lay the spot into the colours, in place."""
        s = self.spec
        at = np.nonzero(
            (np.abs(x - s.x) < 1.8 * s.size[0] + 12) & (np.abs(y - s.y) < 1.8 * s.size[1] + 6)
        )[0]
        if not len(at):
            return
        share = self.share(x[at], y[at], z[at])
        if s.kind == "hole":
            inside = (1 - smoothstep(0.8, 1.15, share))[:, None]
            if s.look == "nail" and species != "hard maple":  # iron and tannin stain blue-black
                far = np.hypot((x[at] - s.x) / (5 * s.size[0]), (y[at] - s.y) / (2 * s.size[1]))
                colour[at] *= (1 - 0.4 * np.exp(-far * far))[:, None]
            colour[at] += (_BLACK - colour[at]) * (0.95 * inside)
        elif s.kind == "bark_pocket":
            inside = (1 - smoothstep(0.75, 1.05, share))[:, None]
            rim = np.exp(-(((share - 1.1) / 0.25) ** 2))[:, None]
            colour[at] *= 1 - 0.3 * rim
            colour[at] += (_BARK - colour[at]) * (0.92 * inside)
        elif s.kind == "pitch":
            inside = (1 - smoothstep(0.7, 1.1, share))[:, None]
            amber = np.float32([0.11, 0.052, 0.018] if s.look == "pocket" else [0.17, 0.095, 0.04])
            colour[at] += (amber - colour[at]) * ((0.85 if s.look == "pocket" else 0.6) * inside)
        elif s.look == "oil":
            rim = np.exp(-(((share - 0.95) / 0.12) ** 2))[:, None]
            soft = (1 - smoothstep(0.8, 1.05, share))[:, None]
            colour[at] *= 1 - np.float32([0.34, 0.40, 0.48]) * soft - 0.10 * rim
        else:
            soft = (1 - smoothstep(0.55, 1.15, share))[:, None]
            grey = np.float32([0.62, 0.66, 0.66] if s.look == "sticker" else [0.50, 0.54, 0.52])
            colour[at] *= 1 - (1 - grey) * soft

    def outline_field(self, x: F32, y: F32, z: F32) -> F32:
        return self.share(x, y, z)


class Marks:
    """All cracks and spots of one board."""

    def __init__(self, shape: Shape) -> None:
        self.cracks = tuple(Crack(shape, c) for c in shape.board.cracks)
        self.spots = tuple(Spot(shape, s) for s in shape.board.spots)
        self._species = shape.board.species

    def paint(self, colour: F32, x: F32, y: F32, z: F32, footprint: F32 | float) -> F32:
        """Return the colours with all marks laid in."""
        for spot in self.spots:
            spot.paint(colour, x, y, z, self._species)
        for crack in self.cracks:
            cover = crack.cover(x, y, z, footprint)
            if cover.any():
                colour += (_BLACK - colour) * (0.96 * cover)[:, None]
        return colour
