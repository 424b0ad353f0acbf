"""Knots: branches as cones from the pith, the rings and the grain pushed aside by them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, noise_2d, smoothstep
from tests.render.shape import Shape
from tests.render.specs import KnotSpec


@dataclass(frozen=True)
class Branch:
    """A knot's axis in the model frame."""

    spec: KnotSpec
    start: NDArray[np.float64]  # on the pith line
    axis: NDArray[np.float64]  # unit, away from the pith
    across: NDArray[np.float64]  # unit, across the grain
    along: NDArray[np.float64]  # unit, nearly along the grain
    s_ref: float  # from the pith to the middle of the board
    s_end: float

    def coordinates(self, x: F32, y: F32, z: F32) -> tuple[F32, F32, F32]:
        """Return distance along the branch, and offsets along and across the grain."""
        dx, dy, dz = (c - np.float32(o) for c, o in zip((x, y, z), self.start, strict=True))
        s, u, v = (
            dx * np.float32(a[0]) + dy * np.float32(a[1]) + dz * np.float32(a[2])
            for a in (self.axis, self.along, self.across)
        )
        return s, u, v

    def radius(self, s: F32) -> F32:
        """Return the branch's radius at a distance from the pith; 0 past its end."""
        grown = self.spec.radius * (np.clip(s, 0, None) / self.s_ref) ** 0.7
        if np.isfinite(self.s_end):
            over = np.clip((s - self.s_end) / self.spec.radius + 1, 0, 1)
            grown = grown * np.sqrt(1 - over * over)
        return grown

    def at_height(self, z: float) -> tuple[float, float, float]:
        """Return x, y of the axis at height z, and s there."""
        s = (z - self.start[2]) / self.axis[2]
        return self.start[0] + s * self.axis[0], self.start[1] + s * self.axis[1], s


class Knots:
    """All branches of one board."""

    def __init__(self, shape: Shape) -> None:
        self._thickness = shape.board.thickness_mm
        self.branches = tuple(self._branch(shape, k) for k in shape.board.knots)

    def _branch(self, shape: Shape, spec: KnotSpec) -> Branch:
        t = shape.board.thickness_mm
        py, pz = (float(v) for v in shape.log.pith(np.float32(spec.x)))
        x_start = spec.x - spec.lean * abs(t / 2 - pz)
        start = np.array([x_start, py, pz])
        axis = np.array([spec.x, spec.y, t / 2]) - start
        s_ref = float(np.linalg.norm(axis))
        axis /= s_ref
        across = np.cross(axis, [1.0, 0.0, 0.0])
        across /= np.linalg.norm(across)
        along = np.cross(across, axis)
        from_pith_side = spec.until
        if np.isfinite(from_pith_side):
            near_face = t if pz > t / 2 else 0.0
            z_end = near_face + np.sign(t / 2 - pz) * from_pith_side
            s_end = float((z_end - pz) / axis[2])
        else:
            s_end = float("inf")
        return Branch(spec, start, axis, across, along, max(s_ref, 8.0), s_end)

    def _near(self, k: Branch, x: F32, y: F32, z: F32, share: float) -> NDArray[np.intp]:
        size = share * k.spec.radius + 6
        slope = k.axis[0] / k.axis[2], k.axis[1] / k.axis[2]
        ax = np.float32(k.start[0]) + (z - np.float32(k.start[2])) * np.float32(slope[0])
        ay = np.float32(k.start[1]) + (z - np.float32(k.start[2])) * np.float32(slope[1])
        return np.nonzero((np.abs(x - ax) < 2.2 * size) & (np.abs(y - ay) < 1.4 * size))[0]

    def deflect(self, x: F32, y: F32, z: F32) -> tuple[F32, F32, F32, F32]:
        """Return the rings' bulge (mm), the grain's shift in y and z, and how wild the grain is."""
        bump, fy, fz, wild = (np.zeros(x.shape, dtype=np.float32) for _ in range(4))
        for k in self.branches:
            at = self._near(k, x, y, z, 6.0)
            if not len(at):
                continue
            s, u, v = k.coordinates(x[at], y[at], z[at])
            rho = np.maximum(k.radius(np.minimum(s, k.s_end - 0.6 * k.spec.radius)), 0.5)
            fade = np.float32(1.0)
            if np.isfinite(k.s_end):
                fade = np.exp(-np.clip(s - k.s_end, 0, None) / (2.2 * k.spec.radius))
            fade = fade * smoothstep(0, 12, s)
            wobble = 1 + 0.12 * noise_2d(k.spec.seed, u, v, 2.5 * k.spec.radius)
            d = np.sqrt((u / 1.9) ** 2 + v * v) * wobble
            out = np.clip(d - 0.8 * rho, 0, None)
            bump[at] += 1.15 * rho * np.exp(-out / (0.95 * rho)) * fade
            d2 = (u / 2.4) ** 2 + v * v
            # Flow round a post: the grain that runs past at distance v came from further in.
            push = -v * np.minimum(rho * rho / (d2 + 0.25 * rho * rho), 0.9) * fade
            fy[at] += push * np.float32(k.across[1])
            fz[at] += push * np.float32(k.across[2])
            far = np.sqrt((u / 1.7) ** 2 + v * v) / rho
            wild[at] = np.maximum(wild[at], np.exp(-np.clip(far - 0.9, 0, None) / 0.8) * fade)
        return bump, fy, fz, wild

    def distance(self, k: Branch, x: F32, y: F32, z: F32) -> tuple[F32, F32, F32, F32, F32]:
        """Return d / radius (1 on the rim), radius, s and offsets u, v of points near a knot."""
        s, u, v = k.coordinates(x, y, z)
        rho = k.radius(s)
        wobble = 1 + 0.10 * noise_2d(k.spec.seed + 1, u, v, 1.5 * k.spec.radius)
        wobble += 0.06 * noise_2d(k.spec.seed + 8, u, v, 0.6 * k.spec.radius)
        d = np.sqrt((u / 1.12) ** 2 + v * v) * wobble
        return d / np.maximum(rho, 0.05), rho, s, u, v

    def paint(self, colour: F32, x: F32, y: F32, z: F32, dark: F32) -> F32:
        """Return the colours with the knots' own wood, bark rings, holes and cracks laid in."""
        for k in self.branches:
            at = self._near(k, x, y, z, 1.8)
            if not len(at):
                continue
            share, rho, _s, u, v = self.distance(k, x[at], y[at], z[at])
            soft = 0.10 if k.spec.look in ("sound", "cracked") else 0.05
            inside = (1 - smoothstep(1 - 1.6 * soft, 1 + soft, share)) * (rho > 0.3)
            rng = np.random.default_rng((k.spec.seed, 9))
            deep, red = float(rng.uniform(0.40, 0.85)), float(rng.uniform(0.95, 1.18))
            rings = noise_2d(k.spec.seed + 2, share * rho * 3.0, 0.25 * (u + v), 2.4)
            grain = noise_2d(k.spec.seed + 3, u, v, 1.6) + noise_2d(k.spec.seed + 4, u, v, 5.0)
            mean = colour[at].mean(axis=0)
            own = mean + (dark * np.float32([red, 1.0, 1 / red]) - mean) * np.float32(deep)
            sector = noise_2d(k.spec.seed + 9, 3 * np.arctan2(v, u), 0.4 * share * rho, 1.3)
            shade = 0.88 + 0.13 * rings + 0.08 * grain - 0.30 * np.clip(share - 0.5, 0, 0.5)
            shade = shade + 0.07 * sector * smoothstep(0.15, 0.5, share)
            shade = shade - 0.25 * np.exp(-((share / 0.35) ** 2))
            body = own * np.clip(shade, 0.2, 1.4)[:, None]
            local = colour[at]
            halo = np.exp(-np.clip(share - 0.9, 0, None) / 0.32) * (rho > 0.3)
            local = local * (1 - 0.22 * halo)[:, None]
            local = local + (body - local) * (0.9 * inside)[:, None]
            rim = np.exp(-(((share - 1.0) * rho / 0.9) ** 2)) * (rho > 0.3)
            strength = 0.45 if k.spec.look in ("sound", "cracked") else 0.0
            local *= (1 - strength * rim)[:, None]
            if k.spec.look in ("loose", "hollow"):
                band = 0.9 + 0.09 * k.spec.radius
                lobes = 0.75 + 0.35 * noise_2d(k.spec.seed + 5, u, v, 1.4 * k.spec.radius)
                bark = np.exp(
                    -((((share - 1.0) * rho + 0.3) / (band * np.clip(lobes, 0.2, 2))) ** 4)
                )
                bark *= rho > 0.3
                local += (np.float32([0.022, 0.014, 0.010]) - local) * (0.95 * bark)[:, None]
            if k.spec.look == "hollow":
                hole = 1 - smoothstep(
                    0.42, 0.58, share + 0.1 * noise_2d(k.spec.seed + 6, u, v, 6.0)
                )
                local *= (1 - 0.94 * hole * (rho > 1))[:, None]
            if k.spec.look in ("cracked", "loose"):
                local *= (1 - self._star(k, share, rho, u, v))[:, None]
            heart = np.exp(-((share * rho / 1.1) ** 2)) * (rho > 1.5)
            local *= (1 - 0.55 * heart)[:, None]
            colour[at] = local
        return colour

    def _star(self, k: Branch, share: F32, rho: F32, u: F32, v: F32) -> F32:
        """Return how dark the knot's own radial cracks make each point."""
        rng = np.random.default_rng((k.spec.seed, 5))
        total = np.zeros(share.shape, dtype=np.float32)
        for angle in rng.uniform(0, 2 * np.pi, int(rng.integers(2, 6))):
            reach = float(rng.uniform(0.45, 1.0))
            bend = 0.05 * rho * noise_2d(k.spec.seed + 7, u, v, 0.5 * k.spec.radius)
            off = np.abs(u * np.sin(angle) - v * np.cos(angle) + bend)
            ahead = (u * np.cos(angle) + v * np.sin(angle)) > -0.3
            gape = np.clip(1.1 - share / reach, 0, 1)  # widest at the pith
            wide = (0.12 + 0.045 * k.spec.radius) * np.maximum(gape, 0.15) + 0.08
            here = (share < reach) & ahead & (rho > 1)
            total = np.maximum(total, np.exp(-((off / wide) ** 2)) * here)
        return 0.85 * total
