"""The wood at any place of a board: year, fibre, branch."""

from dataclasses import dataclass

import numpy as np

from tests.render_two.branches import Branch, flow_round
from tests.render_two.growth import Stem


@dataclass(frozen=True, eq=False)
class Wood:
    """What grows at flat arrays of places.

    ``across`` is the fibre's own y, mm: fibres are lines of one ``across``. ``branch`` is the
    number of the branch that a place lies in, or -1; ``rel`` distance from its axis over its
    radius, ``rho`` that distance in mm, ``bark`` whether the place lies in its bark ring, ``near``
    how much the branch darkens the wood beside it, ``bearing`` about its axis.
    """

    year: np.ndarray
    across: np.ndarray
    branch: np.ndarray
    rel: np.ndarray
    rho: np.ndarray
    bearing: np.ndarray
    bark: np.ndarray
    near: np.ndarray
    stub: np.ndarray


@dataclass(frozen=True, eq=False)
class Solid:
    """A stem with its branches, cut to a board; ``spiral`` is the fibres' slope y over x."""

    stem: Stem
    branches: tuple[Branch, ...]
    spiral: float
    thickness: float

    def wood(self, x, y, z) -> Wood:
        x, y, z = (np.ravel(v).astype(np.float32) for v in np.broadcast_arrays(x, y, z))
        moved_y, moved_z, lift = y.copy(), z.copy(), np.zeros_like(x)
        across = y - self.spiral * x
        branch = np.full(x.shape, -1, np.int8)
        rel, rho = np.full_like(x, 9.0), np.zeros_like(x)
        bearing, near = np.zeros_like(x), np.zeros_like(x)
        bark, stub = np.zeros(x.shape, bool), np.zeros(x.shape, bool)
        for number, one in enumerate(self.branches):
            low, high, a = one.span_x(self.thickness)
            at = np.flatnonzero((x > low - 7 * a - 6) & (x < high + 7 * a + 6))
            if not at.size:
                continue
            s, p, q = one.seen_from(x[at], y[at], z[at])
            push, up = flow_round(one, s, p, q)
            _, e2 = one.axes()
            moved_y[at] += push * e2[1]
            moved_z[at] += push * e2[2]
            across[at] += push * e2[1]
            lift[at] = np.maximum(lift[at], up)
            share, edge, turn = one.outer(s, p, q)
            ring = one.bark(s)
            near[at] = np.maximum(
                near[at],
                np.exp(-np.clip(share - 1, 0, None) * 3.0) * (s < one.end_mm + 3) * (s > 0),
            )
            mine = (share < 1) & one.is_wood(s, share) & (share < rel[at])
            at, share = at[mine], share[mine]
            branch[at], rel[at] = number, share
            rho[at] = np.hypot(p, q)[mine]
            bearing[at] = turn[mine]
            uneven = 1 + 0.35 * np.cos(2 * bearing[at] + number) + 0.25 * np.sin(5 * bearing[at])
            bark[at] = (share * edge[mine] > edge[mine] - uneven * ring[mine]) & (ring[mine] > 0.3)
            stub[at] = s[mine] > one.dead_mm
        year = self.stem.year(x, moved_y, moved_z, lift)
        return Wood(year, across, branch, rel, rho, bearing, bark, near, stub)

    def follow(self, x0, x1, y0, z, step_mm=2.0):
        """Return the fibre through (x0, y0) on the plane z as points (n, 2) up to x1."""
        count = max(int(abs(x1 - x0) / step_mm), 2)
        x = np.linspace(x0, x1, count)
        offsets = np.arange(-40, 40.1, 1.0)
        gx, gy = np.meshgrid(x, y0 + self.spiral * (x1 - x0) * 0 + offsets)
        across = self.wood(gx, gy, np.full(gx.shape, z)).across.reshape(gx.shape)
        mine = across[len(offsets) // 2, 0]
        y = [np.interp(mine, np.maximum.accumulate(across[:, n]), gy[:, n]) for n in range(count)]
        return np.column_stack([x, y])
