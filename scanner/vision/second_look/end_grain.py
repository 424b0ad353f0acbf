"""The rings of an end: the pith they lie round, and how they run at a place.

The pith is sought as a direction and a curvature from the end's middle, so that straight rings
(pith far away) are no special case. Rings wander about their circles: `ring_field` says how.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from scanner.vision.second_look.ring_field import NEAREST_MM, RingField, aims, ring_field, turn_of
from scanner.vision.second_look.ring_lines import line_profiles

Floats = NDArray[np.float64]

# A pith further off than a log's radius is not told from straight rings.
_FURTHEST_MM = 700.0
# Rings wander about their circle by some degrees; beyond this it is a ray, a check or a knot.
_WANDER_DEG = 10.0
# Neighbouring cells see the same rings: so many of them count as one.
_CELLS_AS_ONE = 16.0
_FEWEST_CELLS = 25
# Less of the end that agrees with one pith than this is no reading.
_LEAST_AGREEING = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class EndRings:
    """Rings round one pith, in the picture's mm (x right, y down from its first pixel).

    Attributes
    ----------
    middle_mm
        Middle of the end's wood.
    towards_rad
        Direction from the middle to the pith.
    curvature
        1 / distance to the pith, 1/mm; near 0 where it cannot be told.
    covariance
        Of direction and curvature, (2, 2).
    agreeing
        Share of the cells with a direction that agree within the wander.
    seen_share
        Share of the end that shows a direction at all.
    rival
        How well the best quite different direction explains the cells, as a share of this one.
    field
        How the rings run at each place.
    """

    middle_mm: tuple[float, float]
    towards_rad: float
    curvature: float
    covariance: Floats
    agreeing: float
    seen_share: float
    rival: float
    field: RingField

    def growth_at(self, point_mm: tuple[float, float]) -> tuple[Floats, float]:
        """Return the unit vector in which the rings grow round a place, and its U in degrees."""
        line, u_deg = self.field.line_round(point_mm)
        growth = np.array([-np.sin(line), np.cos(line)])
        inward = aims(self.field.pith, np.array([point_mm]), self.middle_mm)[0]
        return (-growth if growth @ inward > 0 else growth), u_deg

    @property
    def pith_mm(self) -> tuple[float, float] | None:
        """Where the pith lies, or None where its distance is not told to a third."""
        u = 2 * float(np.sqrt(self.covariance[1, 1]))
        if self.curvature < 1 / _FURTHEST_MM or u > self.curvature / 3:
            return None
        x, y = self.middle_mm
        away = 1 / self.curvature
        return (
            x + away * float(np.cos(self.towards_rad)),
            y + away * float(np.sin(self.towards_rad)),
        )


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-9))


def fit_end_rings(
    pixels: NDArray[np.uint8], wood: NDArray[np.bool_], mm_per_px: float
) -> EndRings | None:
    """Return the rings of an end, or None where it shows no rings that go together.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 RGB, square on, 0.1 to 0.3 mm a pixel.
    wood
        (H, W), the end's wood.
    mm_per_px
        Scale.

    References
    ----------
    R. Holland and R. Welsch 1977 (weights).
    """
    lines = line_profiles(pixels, wood, mm_per_px)
    normals, weights, clear = lines.plain_directions()
    if clear.sum() < _FEWEST_CELLS:
        return None
    points, normals, weights = lines.points_mm[clear], normals[clear], weights[clear]
    rows, columns = np.nonzero(wood)
    middle = (float(columns.mean()) * mm_per_px, float(rows.mean()) * mm_per_px)
    best, rival = _rough_fit(points, normals, weights, middle)
    wander = np.radians(_WANDER_DEG)

    def off(at: Floats) -> Floats:
        inward = _unit(aims(at, points, middle))
        across = normals[:, 0] * inward[:, 1] - normals[:, 1] * inward[:, 0]
        return np.asarray(np.sqrt(weights) * np.arcsin(np.clip(across, -1, 1)) / wander)

    solved = least_squares(
        off, best, loss="cauchy", x_scale=np.array([0.05, 0.001]),
        bounds=([-np.inf, 0.0], [np.inf, 1 / NEAREST_MM]),
    )  # fmt: skip
    residual = off(solved.x)
    inside = np.abs(residual) < np.sqrt(weights)
    scatter = float(np.sqrt((residual[inside] ** 2).sum() / max(weights[inside].sum(), 1e-9)))
    jacobian = np.asarray(solved.jac)[inside]
    information = jacobian.T @ jacobian / _CELLS_AS_ONE + np.diag([1e-6, 1e-6])
    covariance = np.linalg.inv(information) * max(scatter, 0.3) ** 2
    agreeing = float(weights[inside].sum() / weights.sum())
    if agreeing < _LEAST_AGREEING:
        return None
    size = (wood.shape[1] * mm_per_px, wood.shape[0] * mm_per_px)
    field = ring_field(lines, np.asarray(solved.x), middle, size)
    return EndRings(
        middle_mm=middle,
        towards_rad=float(field.pith[0]),
        curvature=float(field.pith[1]),
        covariance=np.asarray(covariance),
        agreeing=agreeing,
        seen_share=float(clear.mean()),
        rival=rival,
        field=field,
    )


def _rough_fit(
    points: Floats, normals: Floats, weights: Floats, middle: tuple[float, float]
) -> tuple[Floats, float]:
    """Return the best of a grid of piths, and how well the best quite other direction does."""
    wander = np.radians(_WANDER_DEG)
    tried = []
    for towards in np.radians(np.arange(0, 360, 4)):
        for curvature in (0.0, *(1 / np.array([600, 300, 180, 120, 85, 60, 45, 32, 22, 15]))):
            at = np.array([towards, curvature])
            inward = _unit(aims(at, points, middle))
            sine = normals[:, 0] * inward[:, 1] - normals[:, 1] * inward[:, 0]
            tried.append((float((weights * np.exp(-((sine / wander) ** 2))).sum()), at))
    most, best = max(tried, key=lambda one: one[0])
    turned = [
        score
        for score, at in tried
        if abs(float(turn_of(np.array([at[0] - best[0]]))[0])) > np.radians(30)
    ]
    return best, max(turned) / max(most, 1e-9)
