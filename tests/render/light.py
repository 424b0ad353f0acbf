"""Light: sun with hard shadows, soft sky, workshop lamps; people and trees in the sun's way."""

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, noise_2d, smoothstep
from tests.render.specs import LightSpec

_SKY = {"sun": (0.20, 0.235, 0.30), "shade": (0.55, 0.58, 0.62), "indoor": (0.34, 0.325, 0.30)}
_SUN = {"sun": (1.0, 0.95, 0.86), "shade": (0.16, 0.165, 0.175), "indoor": (0.34, 0.31, 0.26)}
_SOFT_MM = {
    "sun": 0.010,
    "shade": 0.9,
    "indoor": 0.22,
}  # width of the shadow's border per mm of height


class Light:
    """How much light falls on a point, and from where."""

    def __init__(self, spec: LightSpec) -> None:
        self.spec = spec
        rng = np.random.default_rng((spec.seed, 503))
        a, e = np.radians([spec.azimuth_deg, spec.elevation_deg])
        if spec.kind != "sun":
            e = np.radians(50 + 0.5 * spec.elevation_deg)
        self.towards = np.array([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)])
        self.slope = (self.towards[:2] / self.towards[2]).astype(np.float32)
        self.soft = np.float32(_SOFT_MM[spec.kind])
        self.sky = np.float32(_SKY[spec.kind])
        self.sun = np.float32(_SUN[spec.kind]) * np.float32(spec.strength)
        warm = np.float32([1 + 0.06 * spec.warmth, 1.0, 1 - 0.08 * spec.warmth])
        self.sky, self.sun = self.sky * warm, self.sun * warm
        self._seed = int(rng.integers(1 << 20))
        self._person = rng.uniform(-300, 2600), rng.uniform(-700, 300), rng.uniform(0, 6.28)
        # What the sunlit ground gives back to upright surfaces, in shares of the sky.
        self.bounce = np.float32(0.6 if spec.kind == "sun" else 0.1)
        self._slow = rng.uniform(-1, 1, 2) * 0.10

    def falloff(self, x: F32, y: F32) -> F32:
        """Return the slow change of brightness over the scene (a window, a lamp, a wall)."""
        if self.spec.kind == "sun":
            return np.ones(x.shape, dtype=np.float32)
        away = (self._slow[0] * (x - 1200) + self._slow[1] * y) / 1200
        return np.exp(np.clip(away, -0.4, 0.4)).astype(np.float32)

    def cast(self, x: F32, y: F32, z: F32 | float) -> F32:
        """Return the share of sun that people and trees let through (1 = all)."""
        if not self.spec.caster:
            return np.ones(x.shape, dtype=np.float32)
        gx, gy = x - self.slope[0] * z, y - self.slope[1] * z
        if self.spec.caster == "tree":
            # Round spots of sun between soft leaf shadows, some crisp, some from high up.
            leaves = noise_2d(self._seed, gx, gy, 330.0) + 0.8 * noise_2d(
                self._seed + 1, gx, gy, 120.0
            )
            leaves = leaves + 0.45 * noise_2d(self._seed + 2, gx, gy, 48.0)
            high = noise_2d(self._seed + 3, gx, gy, 200.0)
            near = smoothstep(-0.75, 0.15, leaves + 0.6)
            return near * (0.55 + 0.45 * smoothstep(-1.2, 0.6, high))
        # A person's head and shoulders, from whichever side the sun comes.
        px, py, _ = self._person
        along = self.slope / np.hypot(*self.slope)
        u = (gx - px) * along[0] + (gy - py) * along[1]
        v = -(gx - px) * along[1] + (gy - py) * along[0]
        body = np.maximum(np.abs(v) - 235 - 20 * np.sin(u / 160), -u)
        head = np.hypot(u + 150, v) - 105
        edge = np.minimum(body, head) + 6 * noise_2d(self._seed, gx, gy, 40.0)
        return smoothstep(-7, 7, edge)


def shadow(light: Light, x: F32, y: F32, z: F32 | float, body: "Body") -> F32:
    """Return the share of direct light that a body lets through to points at height z."""
    top = body.top
    rise = np.maximum(top - z, 0)
    reach = float(np.max(rise)) * (float(np.hypot(*light.slope)) + float(light.soft)) + 4
    out = body.plan(x, y)
    at = np.nonzero((out < reach) & (rise > 0.05))[0]
    through = np.ones(x.shape, dtype=np.float32)
    if not len(at):
        return through
    xs, ys = x[at], y[at]
    zs = z if np.isscalar(z) else z[at]
    up = top - zs
    nearest = np.ones(xs.shape, dtype=np.float32)
    for share in np.linspace(0.12, 1, 9, dtype=np.float32) ** 1.6:
        h = share * up
        d = body.outside(xs + light.slope[0] * h, ys + light.slope[1] * h, zs + h)
        # The border of a shadow is as wide as its caster is high above the place.
        nearest = np.minimum(nearest, d / np.maximum(light.soft * h, 0.5) + np.float32(0.5))
    through[at] = smoothstep(0.0, 1.0, nearest)
    return through


class Body:
    """Something that stands on the floor and throws a shadow."""

    top: float

    def outside(self, x: F32, y: F32, z: F32 | float) -> F32:
        """Return how far outside the body points lie, mm; negative inside."""
        raise NotImplementedError

    def plan(self, x: F32, y: F32) -> F32:
        """Return how far outside the body points lie as seen from above."""
        raise NotImplementedError


def contact(out: F32, tall: float, gap: F32 | float = 0.0) -> F32:
    """Return the sky light left beside a body, ``out`` mm away from it.

    ``tall``: its thickness; ``gap``: how high its underside stands. A long wall hides
    (1 - cos(its elevation)) / 2 of a flat sky; the crack under the body hides the rest.
    """
    d = np.clip(out, 0.0, None)
    wall = 0.5 * (1 - d / np.sqrt(d * d + (tall + gap) ** 2))
    under = np.exp(-d / (0.10 * tall + 1.2 + 1.5 * gap))
    near = np.clip(1 - gap / (2.0 * tall), 0.3, 1)
    return (1 - (0.95 * wall + 0.42 * under) * near).astype(np.float32)


def irradiance(
    light: Light, normal: tuple[NDArray | float, ...], through: F32, open_sky: F32
) -> F32:
    """Return light on surfaces (N, 3): ``normal`` (x, y, z), sun let through, share of sky seen."""
    nx, ny, nz = normal
    size = np.sqrt(nx * nx + ny * ny + nz * nz)
    facing = (nx * light.towards[0] + ny * light.towards[1] + nz * light.towards[2]) / size
    direct = np.clip(facing, 0, None) * through / light.towards[2] ** 0.5
    # The sky, too, has a brighter side, so relief shows in shade.
    lean = 1 + 0.35 * (nx * light.towards[0] + ny * light.towards[1]) / size
    return (
        direct[:, None].astype(np.float32) * light.sun
        + (open_sky * lean)[:, None].astype(np.float32) * light.sky
    )
