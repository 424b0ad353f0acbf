"""What lies about on any floor: a pencil, shavings, screws, leaves, twigs."""

from dataclasses import dataclass

import numpy as np

from tests.render.noise import F32, noise_2d
from tests.render.wood import linear

_INDOORS = ("pencil", "shaving", "shaving", "shaving", "screw", "shaving")
_OUTDOORS = ("leaf", "leaf", "leaf", "twig", "leaf", "leaf", "twig")
_TALL_MM = {"pencil": 6.5, "shaving": 4.0, "screw": 3.5, "leaf": 6.0, "twig": 4.0}


@dataclass(frozen=True)
class _Thing:
    kind: str
    x: float
    y: float
    turn: float
    size: float  # half length, mm
    seed: int


def box_of(x: F32, y: F32) -> tuple[float, float, float, float]:
    """Return the least and most x, the least and most y of points."""
    if not len(x):
        return np.inf, -np.inf, np.inf, -np.inf
    return float(x.min()), float(x.max()), float(y.min()), float(y.max())


def is_off(box: tuple[float, float, float, float], x: float, y: float, reach: float) -> bool:
    """Say whether all points of a box (least and most x, least and most y) lie out of reach."""
    spare = reach + 1.0  # what is rounded elsewhere decides nothing here
    return x < box[0] - spare or x > box[1] + spare or y < box[2] - spare or y > box[3] + spare


class Clutter:
    """Small things on the floor, never nearer than a hand to the board or the rule."""

    def __init__(
        self, seed: int, floor: str, free: tuple[float, float], length: float, slope: F32
    ) -> None:
        rng = np.random.default_rng((seed, 811))
        outdoors = floor in ("grass", "asphalt")
        kinds = _OUTDOORS if outdoors else _INDOORS
        # Some floors are swept, some are not.
        kinds += ("leaf" if outdoors else "shaving",) * int(min(rng.gamma(0.9, 9), 40))
        kinds += ("twig" if outdoors else "screw",) * int(rng.integers(0, 3))
        things = []
        for kind in kinds:
            if rng.random() < 0.25:
                continue
            low, high = free
            y = rng.uniform(low - 650, low) if rng.random() < 0.5 else rng.uniform(high, high + 650)
            size = {
                "pencil": 87.0,
                "shaving": rng.uniform(5, 20),
                "screw": rng.uniform(12, 20),
                "leaf": rng.uniform(9, 30),
                "twig": rng.uniform(35, 110),
            }[kind]
            things.append(
                _Thing(
                    kind,
                    float(rng.uniform(-300, length + 300)),
                    float(y),
                    float(rng.uniform(0, 6.28)),
                    float(size),
                    int(rng.integers(1 << 20)),
                )
            )
        self._things = tuple(things)
        self._slope = slope

    def lay(self, albedo: F32, x: F32, y: F32, fp: F32, shade: float) -> F32:
        """Return the floor's albedo with the things and their shadows (``shade`` deep) on it."""
        box = box_of(x, y)
        for thing in self._things:
            reach = thing.size * 1.3 + 25
            if is_off(box, thing.x, thing.y, reach):
                continue
            at = np.nonzero((np.abs(x - thing.x) < reach) & (np.abs(y - thing.y) < reach))[0]
            if not len(at):
                continue
            tall = _TALL_MM[thing.kind]
            gx, gy, size = x[at] - thing.x, y[at] - thing.y, fp[at]
            away = 0.45 * tall * self._slope
            dark, _ = self._thing(thing, gx + away[0], gy + away[1], size + 2.5)
            cover, colour = self._thing(thing, gx, gy, size)
            local = albedo[at] * (1 - shade * dark)[:, None]
            albedo[at] = local + (colour - local) * cover[:, None]
        return albedo

    def _thing(self, thing: _Thing, gx: F32, gy: F32, fp: F32) -> tuple[F32, F32]:
        """Return how much of each point the thing covers, and its colour there."""
        c, s = np.float32(np.cos(thing.turn)), np.float32(np.sin(thing.turn))
        u, v = gx * c + gy * s, -gx * s + gy * c
        rng = np.random.default_rng((thing.seed, 1))
        half, bend = thing.size, float(rng.normal(0, 0.004))
        if thing.kind == "pencil":
            wide = np.where(u > half - 20, np.clip((half - u) / 20, 0, 1) * 3.4, 3.5)
            facet = np.where(v > 1.3, 0.75, np.where(v > -1.3, 1.1, 0.9))
            colour = linear((214, 160, 40)) * facet[:, None]
            colour = np.where((u > half - 20)[:, None], linear((206, 172, 128)), colour)
            colour = np.where((u > half - 5)[:, None], linear((52, 52, 54)), colour)
            colour = np.where((u < 18 - half)[:, None], linear((150, 150, 140)), colour)
            colour = np.where((u < 8 - half)[:, None], linear((196, 120, 112)), colour)
        elif thing.kind == "shaving":
            v = v - (0.5 * u * u / half - 0.25 * half)
            wide = np.full(u.shape, rng.uniform(2.0, 4.5)) * (1 - 0.3 * (u / half) ** 2)
            light = 0.95 + 0.25 * np.sin(u / 4 + v / 2) + 0.1 * noise_2d(thing.seed, u, v * 4, 3.0)
            colour = linear((214, 188, 148)) * light[:, None]
        elif thing.kind == "screw":
            wide = np.where(u < 4 - half, 4.2 - 0.9 * (u + half), 1.7)
            light = 0.75 + 0.45 * np.sin(2.4 * u) * (np.abs(v) < 1.6) - 0.15 * v
            colour = linear((140, 132, 108)) * np.clip(light, 0.15, 1.6)[:, None]
        elif thing.kind == "leaf":
            v = v - bend * u * u
            jag = 1 + 0.14 * noise_2d(thing.seed, u, 0 * u, 7.0)
            wide = 0.48 * half * np.clip(1 - (u / half) ** 2, 0, 1) * jag
            hue = ((116, 94, 68), (134, 112, 74), (98, 80, 62), (114, 106, 72))[thing.seed % 4]
            light = 1 + 0.3 * np.sign(v) * 0.5 + 0.25 * noise_2d(thing.seed + 1, u, v, 9.0)
            light = light + 0.35 * (np.abs(v) < 0.7) + 0.12 * np.cos(1.1 * (u + 1.2 * np.abs(v)))
            colour = linear(hue) * np.clip(light, 0.3, 2)[:, None]
        else:
            v = v - bend * u * u - 2.0 * noise_2d(thing.seed, u, 0 * u, 40.0)
            wide = np.full(u.shape, rng.uniform(1.0, 2.2))
            light = 1 - 0.25 * v + 0.2 * noise_2d(thing.seed + 1, u, v, 4.0)
            colour = linear((92, 74, 56)) * np.clip(light, 0.2, 2)[:, None]
        across = np.clip((wide - np.abs(v)) / fp + 0.5, 0, 1)
        along = np.clip((half - np.abs(u)) / fp + 0.5, 0, 1)
        thin = np.clip(2 * wide / fp, 0, 1)
        return (across * along * thin).astype(np.float32), colour.astype(np.float32)
