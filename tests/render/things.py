"""Things that stand about: their outlines, sizes and colours."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.render.flat_things import FLAT
from tests.render.noise import F32, noise_2d, smoothstep
from tests.render.wood import linear

_CABLES = ((24, 24, 26), (196, 84, 22), (206, 174, 40), (40, 44, 48), (150, 150, 146))


@dataclass(frozen=True)
class Thing:
    """One thing; ``size`` half extents (mm), ``tall`` its height."""

    kind: str
    x: float
    y: float
    turn: float
    size: tuple[float, float]
    tall: float
    seed: int

    def local(self, x: F32, y: F32) -> tuple[F32, F32]:
        """Return the thing's own coordinates of floor points."""
        c, s = np.float32(np.cos(self.turn)), np.float32(np.sin(self.turn))
        gx, gy = x - np.float32(self.x), y - np.float32(self.y)
        return gx * c + gy * s, -gx * s + gy * c

    def outside(self, x: F32, y: F32) -> F32:
        """Return how far outside its outline floor points lie, mm."""
        u, v = self.local(x, y)
        a, b = self.size
        if self.kind in FLAT:
            return FLAT[self.kind].outside(u, v, a, b, self.seed)
        if self.kind in ("can", "bucket"):
            return np.hypot(u, v) - np.float32(a)
        if self.kind == "stone":
            wave = 1 + 0.16 * np.sin(3 * np.arctan2(v, u) + self.seed) + 0 * u
            return (np.sqrt((u / a) ** 2 + (v / b) ** 2) - wave) * np.float32(min(a, b))
        if self.kind == "hammer":
            handle = np.maximum(np.abs(u) - a, np.abs(v) - (11 + 4 * np.sin(u / 45)))
            head = np.maximum(np.abs(u - a) - 16, np.abs(v) - 52 + 14 * (v < 0))
            return np.minimum(handle, head)
        if self.kind == "clamp":
            bar = np.maximum(np.abs(u) - a, np.abs(v) - 6)
            jaw = np.maximum(np.abs(u - a + 14) - 15, np.abs(v - 38) - 46)
            slide = np.maximum(np.abs(u + 0.3 * a) - 18, np.abs(v - 38) - 46)
            screw = np.maximum(np.abs(u + 0.3 * a + 75) - 62, np.abs(v - 66) - 12)
            return np.minimum(np.minimum(bar, jaw), np.minimum(slide, screw))
        r = 14.0 if self.kind == "tape" else 1.0
        qx, qy = np.abs(u) - (a - r), np.abs(v) - (b - r)
        far = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0))
        return far + np.minimum(np.maximum(qx, qy), 0) - np.float32(r)

    def relief(self, x: F32, y: F32) -> tuple[F32, F32]:
        """Return the slopes of its top along floor x and y."""
        if self.kind not in FLAT:
            return 0 * x, 0 * y
        hx, hy = FLAT[self.kind].relief(*self.local(x, y), self.seed)
        c, s = np.float32(np.cos(self.turn)), np.float32(np.sin(self.turn))
        return hx * c - hy * s, hx * s + hy * c

    def colour(self, x: F32, y: F32, z: F32, side: NDArray[np.bool_]) -> F32:
        """Return its albedo (N, 3) at points of its surface."""
        u, v = self.local(x, y)
        if self.kind in FLAT:
            return FLAT[self.kind].colour(u, v, *self.size, self.seed)
        rng = np.random.default_rng((self.seed, 2))
        rough = noise_2d(self.seed, u, v + z, 9.0)
        if self.kind in ("offcut", "block"):
            tint = ((188, 164, 128), (158, 126, 98), (206, 188, 156), (128, 106, 86))[self.seed % 4]
            grain = noise_2d(self.seed + 1, u * 0.03, v + 0.6 * z, 3.0)
            grain = grain + 0.9 * noise_2d(self.seed + 2, u * 0.05, v + 0.6 * z, 13.0)
            end = side & (np.abs(u) > self.size[0] - 2)
            shade = np.exp(0.11 * grain + 0.03 * rough) * np.where(end, 0.72, 1.0)
            return linear(tint) * shade[:, None]
        if self.kind == "can":
            lid = np.hypot(u, v) / self.size[0]
            groove = 1 - 0.4 * np.exp(-(((lid - 0.9) / 0.03) ** 2))
            label = linear(tuple(rng.uniform(50, 190, 3)))  # type: ignore[arg-type]
            metal = np.float32([0.42, 0.42, 0.43]) * groove[:, None]
            spill = smoothstep(0.3, 0.8, noise_2d(self.seed + 3, u, v, 40.0))[:, None]
            top = metal + (label - metal) * spill
            return np.where(side[:, None], label * np.exp(0.05 * rough)[:, None], top)
        if self.kind == "bucket":
            ink = linear(
                ((226, 226, 220), (200, 104, 30), (40, 42, 44), (52, 84, 140))[self.seed % 4]
            )
            lid = np.hypot(u, v) / self.size[0]
            deep = 0.10 + 0.30 * np.clip(0.5 + 0.6 * u / self.size[0], 0, 1) * lid**2
            inner = np.where(lid < 0.93, deep, 1.0)
            return ink * np.where(side, 0.9, inner)[:, None] * np.exp(0.05 * rough)[:, None]
        if self.kind == "tape":
            shell = linear(((200, 164, 44), (150, 48, 42), (52, 54, 58))[self.seed % 3])
            band = (np.abs(v) < 0.5 * self.size[1])[:, None]
            dark = linear((34, 34, 36))
            label = np.where(
                (np.hypot(u, v) < 0.42 * self.size[0])[:, None], linear((190, 190, 186)), shell
            )
            return np.where(band | ~side[:, None], label, dark) * np.exp(0.06 * rough)[:, None]
        if self.kind == "hammer":
            steel = np.float32([0.19, 0.19, 0.2]) * np.exp(0.15 * rough)[:, None]
            grip = linear(((168, 122, 70), (38, 60, 120), (30, 30, 32))[self.seed % 3])
            grip = grip * np.exp(0.10 * noise_2d(self.seed + 1, u * 0.1, v, 4.0))[:, None]
            return np.where((u > self.size[0] - 17)[:, None], steel, grip)
        if self.kind == "clamp":
            bar = (np.abs(v) < 6.5)[:, None]
            steel = np.float32([0.27, 0.27, 0.28]) * np.exp(0.12 * rough)[:, None]
            return np.where(bar, steel, linear((124, 58, 46)) * np.exp(0.1 * rough)[:, None])
        if self.kind == "stone":
            return (
                linear((132, 124, 112))
                * np.exp(0.22 * rough + 0.1 * noise_2d(self.seed, u, v, 25.0))[:, None]
            )
        card = linear((158, 130, 98)) * np.exp(0.04 * rough)[:, None]
        seam = np.exp(-((v / 2.0) ** 2))[:, None] * (~side)[:, None]
        return card * (1 - 0.35 * seam)


class Cable:
    """A cable or hose that wanders over the floor."""

    def __init__(
        self, seed: int, start: NDArray[np.float64], hose: bool, coil: bool = False
    ) -> None:
        rng = np.random.default_rng((seed, 4))
        self.radius = float(rng.uniform(9, 12) if hose else rng.uniform(3, 5))
        ink = (34, 84, 46) if hose else _CABLES[int(rng.integers(len(_CABLES)))]
        self.ink = linear(ink)
        heading, turn = rng.uniform(0, 6.28), 0.0
        path = [start]
        if coil:  # loops laid on one another, none quite round
            a = np.linspace(0, 2 * np.pi * rng.uniform(3, 6), 110) + heading
            wide = rng.uniform(75, 135) * (1 + 0.10 * np.sin(0.61 * a) + 0.07 * np.sin(1.37 * a))
            squash = rng.uniform(0.6, 1)
            drift = np.cumsum(rng.normal(0, 1.6, (len(a), 2)), axis=0)
            loops = np.column_stack([np.cos(a), squash * np.sin(a)]) * wide[:, None] + drift
            path = list(start + loops - loops[0])
            heading = float(a[-1] + np.pi / 2)
        for _ in range(int(rng.integers(4, 16) if coil else rng.integers(30, 75))):
            turn = 0.9 * turn + rng.normal(0, 0.085)
            heading += turn
            path.append(path[-1] + 34 * np.array([np.cos(heading), np.sin(heading)]))
        self.path = np.array(path, dtype=np.float32)

    def nearest(self, x: F32, y: F32) -> tuple[F32, F32, F32]:
        """Return the distance from the middle line, and which way the line lies."""
        best = np.full(x.shape, 1e6, dtype=np.float32)
        nx, ny = np.zeros_like(best), np.zeros_like(best)
        for (x0, y0), (x1, y1) in zip(self.path[:-1], self.path[1:], strict=True):
            dx, dy = x1 - x0, y1 - y0
            t = np.clip(((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy), 0, 1)
            ox, oy = x - x0 - t * dx, y - y0 - t * dy
            d2 = ox * ox + oy * oy
            near = d2 < best
            best = np.where(near, d2, best)
            nx, ny = np.where(near, ox, nx), np.where(near, oy, ny)
        return np.sqrt(best), nx, ny


def measure(kind: str, rng: np.random.Generator) -> tuple[tuple[float, float], float]:
    """Return half extents and height of a thing."""
    low_high = {
        "offcut": ((50, 170), (22, 60), (15, 30)),
        "block": ((35, 70), (30, 50), (35, 60)),
        "can": ((45, 85), (45, 85), (90, 190)),
        "bucket": ((120, 150), (120, 150), (240, 340)),
        "tape": ((34, 40), (30, 36), (32, 42)),
        "hammer": ((130, 160), (50, 55), (22, 28)),
        "clamp": ((180, 420), (70, 80), (24, 34)),
        "box": ((110, 190), (80, 140), (50, 120)),
        "stone": ((8, 26), (6, 20), (6, 18)),
        "saw": ((260, 330), (66, 84), (4, 9)),
        "square": ((85, 120), (85, 120), (4, 7)),
        "paper": ((95, 150), (70, 108), (1, 2)),
        "rag": ((90, 190), (70, 130), (8, 18)),
        "glove": ((95, 115), (55, 66), (14, 24)),
        "coil": ((200, 200), (200, 200), (10, 10)),
        "cable": ((10, 10), (10, 10), (8, 8)),
        "hose": ((20, 20), (20, 20), (20, 20)),
    }[kind]
    a, b, tall = (float(rng.uniform(*pair)) for pair in low_high)
    return (a, b), tall
