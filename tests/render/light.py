"""Light: sun with hard shadows, soft sky, workshop lamps; people and trees in the sun's way."""

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, noise_2d, smoothstep, spread
from tests.render.specs import LightSpec

_SKY = {"sun": (0.20, 0.235, 0.30), "shade": (0.55, 0.58, 0.62), "indoor": (0.34, 0.325, 0.30)}
_SUN = {"sun": (1.0, 0.95, 0.86), "shade": (0.30, 0.312, 0.33), "indoor": (0.42, 0.39, 0.34)}
_SOFT_MM = {
    "sun": 0.010,
    "shade": 0.75,
    "indoor": 0.5,
}  # width of the shadow's border per mm of height


class Light:
    """How much light falls on a point, and from where."""

    def __init__(self, spec: LightSpec) -> None:
        self.spec = spec
        rng = np.random.default_rng((spec.seed, 503))
        a, e = np.radians([spec.azimuth_deg, spec.elevation_deg])
        if spec.kind != "sun":
            e = np.radians(28 + 0.5 * spec.elevation_deg)
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
        self._slow = rng.uniform(-1, 1, 2) * (0.34 if spec.kind == "indoor" else 0.14)
        self._mix = rng.uniform(-1, 1, 2) * (0.07 if spec.kind == "indoor" else 0.02)
        self._lamp = rng.uniform(-400, 2600), rng.uniform(-900, 1300), rng.uniform(500, 1100)
        self._lamp_gain = float(rng.uniform(0.0, 0.35)) if spec.kind == "indoor" else 0.0
        self._pane = rng.uniform(0, 2200), rng.uniform(-900, 1500), rng.uniform(0, 3.1)
        sunny = spec.kind == "indoor" and rng.random() < 0.04
        self._pane_gain = float(rng.uniform(0.5, 1.2)) if sunny else 0.0
        px, _, bend = self._pane
        aside = rng.choice([rng.uniform(-1500, -900), rng.uniform(1150, 1900)])
        # It lies off the board, which would need a hard shadow; drawn out the way the light runs.
        self._pane = px, float(aside), float(a + 0.12 * (bend - 1.5))
        # Where the window or the brightest sky is, for the sheen of what is polished.
        far, turn = rng.uniform(1500, 3200), rng.uniform(0, 6.28)
        self.window = np.float32(
            [1200 + far * np.cos(turn), far * np.sin(turn), rng.uniform(1400, 2600)]
        )
        self.sheen = np.float32(rng.gamma(1.6, 0.035) if spec.kind == "indoor" else 0.015)

    def falloff(self, x: F32, y: F32) -> F32:
        """Return the slow change of light (N, 3) over the scene: a window, a lamp, a wall."""
        if self.spec.kind == "sun":
            return np.ones((len(x), 3), dtype=np.float32)
        u, v = (x - np.float32(1200)) / 1200, y / 1200
        slow, tints = self._slow.astype(np.float32), self._mix.astype(np.float32)
        away = np.clip(slow[0] * u + slow[1] * v, -0.7, 0.7)
        level = np.exp(away)
        px, py, wide = self._lamp
        if self._lamp_gain:
            level += self._lamp_gain * np.exp(-((x - px) ** 2 + (y - py) ** 2) / (2 * wide**2))
        if self._pane_gain:
            level += self._pane_gain * self._panes(x, y)
        mix = np.clip(tints[0] * u + tints[1] * v, -0.12, 0.12)
        tints = (np.exp(mix), 1, np.exp(-1.4 * mix))
        return np.stack([level * tint for tint in tints], axis=1).astype(np.float32)

    def _panes(self, x: F32, y: F32) -> F32:
        """Return where the sun comes through a window: slanted panes with soft borders."""
        px, py, turn = self._pane
        c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        u, v = (x - px) * c + (y - py) * s, -(x - px) * s + (y - py) * c
        v = v + np.float32(0.12) * u
        # The sun is half a degree wide: borders blur with the way from the frame, so with u.
        soft = np.float32(22) + np.float32(0.03) * (u + 700)
        soft = np.clip(soft, 14, 70)
        half_u, half_v = np.float32(560), np.float32(300)
        inside = np.clip((half_u - np.abs(u)) / soft + 0.5, 0, 1)
        inside = inside * np.clip((half_v - np.abs(v)) / soft + 0.5, 0, 1)
        for off in (-0.34, 0.33):
            inside = inside * np.clip((np.abs(u - off * half_u) - 16) / soft + 0.7, 0.25, 1)
        inside = inside * np.clip((np.abs(v) - 14) / soft + 0.7, 0.2, 1)
        return np.asarray(inside * inside * (3 - 2 * inside), dtype=np.float32)

    def glare(self, x: F32, y: F32, eye: F32, polish: float) -> F32:
        """Return the sheen of the window on a level surface, (N, 3)."""
        vx, vy, vz = eye[0] - x, eye[1] - y, eye[2]
        lx, ly, lz = self.window[0] - x, self.window[1] - y, self.window[2]
        v = np.sqrt(vx * vx + vy * vy + vz * vz)
        w = np.sqrt(lx * lx + ly * ly + lz * lz)
        hx, hy, hz = vx / v + lx / w, vy / v + ly / w, vz / v + lz / w
        up = hz / np.sqrt(hx * hx + hy * hy + hz * hz)
        return spread(self.sheen * up**polish, self.sky + 0.5 * self.sun) * 4

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
            leaves = leaves + 0.45 * noise_2d(self._seed + 2, gx, gy, 40.0)
            high = noise_2d(self._seed + 3, gx, gy, 200.0)
            # Each gap between leaves throws a round picture of the sun.
            near = smoothstep(-0.95, 0.6, leaves + 0.6)
            return near * (0.55 + 0.45 * smoothstep(-1.2, 0.6, high))
        # The photographer: legs and trunk, shoulders, a head, arms held up to the phone.
        px, py, _ = self._person
        along = self.slope / np.hypot(*self.slope)
        u = (gx - px) * along[0] + (gy - py) * along[1]
        v = -(gx - px) * along[1] + (gy - py) * along[0]
        trunk = np.hypot(np.maximum(np.abs(v) - 120, 0), np.minimum(u - 170, 0) * 0.8) - 95
        trunk = trunk - np.clip(u - 500, 0, 600) * 0.03 + 10 * np.sin(u / 130)
        neck = np.maximum(np.abs(v) - 55, np.abs(u - 20) - 110)
        head = np.hypot((u + 120) * 0.8, v) - 88
        arm = np.hypot(np.maximum(np.abs(u - 110 + 0.5 * np.abs(v)) - 30, 0), 0) - 22
        arm = np.maximum(arm, np.abs(v) - 250)
        edge = np.minimum(np.minimum(trunk, neck), np.minimum(head, arm))
        edge = edge + 3 * noise_2d(self._seed, gx, gy, 90.0)
        soft = 5 + 7 * smoothstep(900, -200, u)  # the head is further from the ground
        return smoothstep(-1.0, 1.0, edge / soft)


def shadow(
    light: Light, x: F32, y: F32, z: F32 | float, body: "Body", plan: F32 | None = None
) -> F32:
    """Return the share of direct light that a body lets through to points at height z.

    ``plan``: of the body at the points, where it is known.
    """
    top = body.top
    rise = np.maximum(top - z, 0)
    reach = float(np.max(rise)) * (float(np.hypot(*light.slope)) + float(light.soft)) + 4
    out = body.plan(x, y) if plan is None else plan
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
    gap = np.maximum(gap, 0.0)  # a warped board's bow, drawn on far past its ends, sinks below
    wall = 0.5 * (1 - d / np.sqrt(d * d + (tall + gap) ** 2))
    under = np.exp(-d / (0.10 * tall + 1.2 + 1.5 * gap))
    near = np.clip(1 - gap / (2.0 * tall), 0.3, 1)
    return (1 - (1.12 * wall + 0.42 * under) * near).astype(np.float32)


def irradiance(
    light: Light, normal: tuple[NDArray | float, ...], through: F32, open_sky: F32
) -> F32:
    """Return light on surfaces (N, 3): ``normal`` (x, y, z), sun let through, share of sky seen."""
    nx, ny, nz = normal
    tx, ty, tz = (float(t) for t in light.towards)
    size = np.sqrt(nx * nx + ny * ny + nz * nz)
    level = nx * tx + ny * ty
    facing = (level + nz * tz) / size
    direct = np.maximum(facing, 0) * through / tz**0.5
    # The sky, too, has a brighter side, so relief shows in shade.
    lean = 1 + 0.35 * level / size
    lit = spread(direct.astype(np.float32), light.sun)
    lit += spread((open_sky * lean).astype(np.float32), light.sky)
    return lit
