"""Branches in the stem: where they lie, what they look like, how the fibres flow round them."""

from dataclasses import dataclass

import numpy as np

from tests.render_two.noise import ease


@dataclass(frozen=True, eq=False)
class Branch:
    """A branch as a cone from the pith: alive to ``dead_mm`` of its axis, dead to ``end_mm``.

    ``look``: sound, loose (past ``dead_mm`` in a ring of bark), hollow, cracked.
    """

    base: np.ndarray  # where it leaves the pith, board mm
    way: np.ndarray  # along its axis, length 1
    widen: float  # radius gained a mm of axis
    dead_mm: float
    end_mm: float
    look: str
    bark_mm: float
    lobes: tuple[tuple[float, float], ...]
    cracks: tuple[tuple[float, float], ...]  # bearing and opening of star cracks
    ring_mm: float

    def axes(self):
        """Return the directions along the stem and across it, square to the axis."""
        along = np.array([1.0, 0, 0]) - self.way[0] * self.way
        along /= np.linalg.norm(along)
        return along, np.cross(self.way, along)

    def radius(self, s):
        return np.maximum(self.widen * np.clip(s, 0, self.dead_mm), 0.2)

    def bark(self, s):
        """Return the width of the bark ring: none where the branch was alive."""
        if self.look == "sound" or self.look == "cracked":
            return np.zeros_like(s)
        return self.bark_mm * np.clip((s - self.dead_mm) / 4.0, 0, 1)

    def seen_from(self, x, y, z):
        """Return s along the axis, and p along and q across the stem, of flat arrays of places."""
        along, across = self.axes()
        v = np.stack([x - self.base[0], y - self.base[1], z - self.base[2]])
        return tuple(np.tensordot(way, v, 1) for way in (self.way, along, across))

    def outer(self, s, p, q):
        """Return distance from the axis over the branch's radius there, bark included."""
        bearing = np.arctan2(q, p)
        wobble = 1 + sum(
            size * np.cos((n + 2) * bearing + phase) for n, (size, phase) in enumerate(self.lobes)
        )
        edge = (self.radius(s) + self.bark(s)) * wobble
        return np.hypot(p, q) / edge, edge, bearing

    def is_wood(self, s, rel):
        """Return whether the branch still is there: its dead end is round and grown over."""
        return (s > 0) & (s < self.end_mm - 0.8 * self.radius(s) * rel**2)

    def span_x(self, thickness):
        """Return where along the board the branch passes through its thickness, and its radius."""
        if abs(self.way[2]) < 1e-3:
            ends = np.array([0.0, self.end_mm])
        else:
            ends = np.sort((np.array([0.0, thickness]) - self.base[2]) / self.way[2])
            ends = np.clip(ends, 0.0, self.end_mm)
        x = self.base[0] + ends * self.way[0]
        return float(x.min()), float(x.max()), float(self.radius(ends).max() + self.bark_mm)


def flow_round(branch, s, p, q):
    """Return how far fibres are pushed across the stem, and how far fronts are lifted, mm.

    The stream function of a flow round a cylinder, q (1 - a2 / rho2), drawn out along the stem;
    past the branch's end the swirl dies away.
    """
    a = branch.radius(np.minimum(s, branch.end_mm)) + branch.bark(np.minimum(s, branch.end_mm))
    past = np.clip(s - branch.end_mm, 0, None)
    a = a * np.exp(-past / (2.5 * a + 4.0)) * (s > 0)
    rho2 = (p / 1.45) ** 2 + q**2
    inside = rho2 < a * a
    push = np.where(inside, -q, -q * a * a / np.maximum(rho2, 1e-6))
    # A real swirl is over sooner than an ideal flow's.
    fade = 1 - ease(np.abs(p) / (a + 0.1), 3.0, 6.5)
    lift = 0.9 * a * np.exp(-np.clip(np.sqrt(rho2) - a, 0, None) / (0.9 * a + 1.0))
    return push * fade, lift * fade
