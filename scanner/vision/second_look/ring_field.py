"""The way rings run all over an end: circles round one pith, and how they wander off them.

At many places a saw's streaks, rays and checks cross the rings, and one direction taken from all
lines there lies between the two. Here only lines near to where the rings are reckoned to run
count, less what runs that way where the rings do not; the rings' own way is a smooth field, so
that a place is told by what is seen round it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from scanner.vision.second_look.ring_lines import LineProfiles

Floats = NDArray[np.float64]

# A pith nearer than this to the end's middle is not looked for.
NEAREST_MM = 10.0
# Rings wander off the circle round their pith by so much (1 sd), alike over so many mm; a place
# tells its line to so much, neighbours seeing the same rings. Development boards 8600-8611 and the
# even ones of 8612-8650: of 320 places 96 % were within 5 degrees before there was a field, 99 %
# with it; a reach of 12 mm gave 98 %, of 18 mm 97 %.
_WANDER_DEG, _ALIKE_MM = 7.0, 10.0
_CELL_DEG = 14.0
# The field's nodes lie closer than it changes.
_NODE_SHARE = 0.7
# Lines further than this (1 sd) from where the rings are reckoned to run are others: round by round
# less is let in. The filters themselves smear a line's direction by the last.
_LET_IN_DEG = (25.0, 18.0, 14.0, 12.0)
_SMEAR_DEG = 10.0
_OTHER_DEG = 30.0
_FEWEST_OTHERS = 60
# Beyond this a place counts for half.
_STRAY_DEG = 15.0
_PITH_STRAY_DEG = 10.0
# A direction is meant over 16 by 12 mm, about a leg's or a stave's section.
_WINDOW = np.stack(np.meshgrid(np.linspace(-8, 8, 9), np.linspace(-6, 6, 5)), axis=-1).reshape(
    -1, 2
)


@dataclass(frozen=True, slots=True, eq=False)
class RingField:
    """The rings' way at every place of an end.

    Attributes
    ----------
    pith
        Direction to the pith from the middle (rad) and curvature (1/mm), (2,).
    middle_mm
        Middle of the end's wood.
    nodes_mm, turns, covariance
        (M, 2) places; (M,) what each adds to the field round it, rad; (M, M) how well that is told.
    """

    pith: Floats
    middle_mm: tuple[float, float]
    nodes_mm: Floats
    turns: Floats
    covariance: Floats

    def lines_rad(self, points_mm: Floats) -> Floats:
        """Return (N,) the direction in which rings run at places (N, 2)."""
        return _round_pith(self.pith, points_mm, self.middle_mm) + np.asarray(
            _near(points_mm, self.nodes_mm) @ self.turns
        )

    def line_round(self, point_mm: tuple[float, float]) -> tuple[float, float]:
        """Return the mean direction (rad) in a window round a place, and its U in degrees."""
        places = np.array(point_mm) + _WINDOW
        mean = 0.5 * float(np.angle(np.exp(2j * self.lines_rad(places)).mean()))
        near = _near(places, self.nodes_mm).mean(axis=0)
        return mean, 2 * float(np.degrees(np.sqrt(near @ self.covariance @ near)))


def ring_field(
    lines: LineProfiles, pith: Floats, middle_mm: tuple[float, float], size_mm: tuple[float, float]
) -> RingField:
    """Return the rings' way over an end of a size, starting from circles round a rough pith.

    References
    ----------
    C. E. Rasmussen and C. K. I. Williams 2006, Gaussian Processes for Machine Learning, section
    8.3.1 (subset of regressors: a smooth field by few nodes).
    """
    points = lines.points_mm
    nodes = _nodes(size_mm)
    certain = _near(nodes, nodes) + 1e-4 * np.eye(len(nodes))
    certain /= np.radians(_WANDER_DEG) ** 2
    near = _near(points, nodes)
    turns = np.zeros(len(nodes))
    for let_in in np.radians(_LET_IN_DEG):
        here = _round_pith(pith, points, middle_mm) + near @ turns
        shift, weights = _lines_near(lines, here, float(let_in))
        seen = here + shift
        pith = _pith_again(seen, weights, pith, points, middle_mm)
        off = turn_of(seen - _round_pith(pith, points, middle_mm))
        weights = weights / (1 + ((off - near @ turns) / np.radians(_STRAY_DEG)) ** 2)
        told = near * (weights / np.radians(_CELL_DEG) ** 2)[:, None]
        known = certain + near.T @ told
        turns = np.linalg.solve(known, told.T @ off)
    return RingField(pith, middle_mm, nodes, turns, np.linalg.inv(known))


def aims(pith: Floats, points: Floats, middle: tuple[float, float]) -> Floats:
    """Return vectors (N, 2) from points to the pith, times the curvature."""
    direction = np.array([np.cos(pith[0]), np.sin(pith[0])])
    return np.asarray(direction - pith[1] * (points - np.array(middle)))


def _round_pith(pith: Floats, points: Floats, middle: tuple[float, float]) -> Floats:
    towards = aims(pith, points, middle)
    return np.asarray(np.arctan2(towards[:, 1], towards[:, 0]) + np.pi / 2)


def turn_of(angles: Floats) -> Floats:
    """Return turns (rad) between directions without an arrow, brought to -pi/2 to pi/2."""
    return np.asarray((angles + np.pi / 2) % np.pi - np.pi / 2)


def _nodes(size_mm: tuple[float, float]) -> Floats:
    step = _NODE_SHARE * _ALIKE_MM
    x, y = (np.arange(-step / 2, size + step, step) for size in size_mm)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def _near(points: Floats, nodes: Floats) -> Floats:
    apart = ((points[:, None] - nodes[None]) ** 2).sum(axis=2)
    return np.asarray(np.exp(-apart / (2 * _ALIKE_MM**2)))


def _lines_near(lines: LineProfiles, here: Floats, let_in: float) -> tuple[Floats, Floats]:
    """Return by how much (N,) the lines near to directions ``here`` turn off them, and weights."""
    off = turn_of(lines.ways_rad[None] - here[:, None])
    energy = lines.energy.copy()
    for way, far in enumerate((np.abs(off) > np.radians(_OTHER_DEG)).T):
        # What runs this way where no ring does is a saw's streaks, and they run on over the rings.
        if far.sum() >= _FEWEST_OTHERS:
            energy[:, way] -= np.median(energy[far, way])
    energy = np.maximum(energy - np.median(energy, axis=1, keepdims=True), 0) ** 2
    window = np.exp(-0.5 * (off / let_in) ** 2)
    have, total = (energy * window).sum(axis=1), energy.sum(axis=1)
    shift = (energy * window * off).sum(axis=1) / np.maximum(have, 1e-12)
    # The window pulls a smeared line towards its own middle by this.
    shift *= 1 + (np.radians(_SMEAR_DEG) / let_in) ** 2
    clear = np.sqrt(total) / max(float(np.median(lines.total)), 1e-12)
    weights = (have / np.maximum(total, 1e-12)) ** 2 * np.clip(1.5 * clear, 0, 1)
    return np.clip(shift, -2 * let_in, 2 * let_in), np.asarray(weights)


def _pith_again(
    seen: Floats, weights: Floats, pith: Floats, points: Floats, middle: tuple[float, float]
) -> Floats:
    """Return the pith that directions (N,) point at best, starting from a near one."""
    strength = np.sqrt(weights) / np.radians(_PITH_STRAY_DEG)

    def off(at: Floats) -> Floats:
        return np.asarray(strength * turn_of(seen - _round_pith(at, points, middle)))

    return np.asarray(
        least_squares(
            off, pith, loss="cauchy", x_scale=np.array([0.05, 0.001]),
            bounds=([-np.inf, 0.0], [np.inf, 1 / NEAREST_MM]),
        ).x
    )  # fmt: skip
