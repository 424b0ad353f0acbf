"""Ring directions on a flat picture of an end, and the pith they point at.

Filters for dark lines give a direction at each place; rings wander about their circles, but all of
them must lie round one pith.
The pith is sought as a direction and a curvature from the end's middle, so that straight rings
(pith far away) are no special case.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Floats = NDArray[np.float64]

# Rings show as thin dark lines; a saw's streaks on an end are broader and shorter.
_LINE_MM = 0.4
_LINE_LONG_MM = 2.5
_WAYS = 24
_BROAD_MM = 5.0
_GATHER_MM = 2.5
_GRID_MM = 2.0
_RIM_MM = 1.5
_LEAST_COHERENCE = 0.25
# A pith nearer than this to the middle is not looked for, nor is one further than a log's radius
# told from straight rings.
_NEAREST_MM = 10.0
_FURTHEST_MM = 700.0
# Rings wander about their circle by some degrees; beyond this it is a ray, a check or a knot.
_WANDER_DEG = 10.0
# Neighbouring cells see the same rings: so many of them count as one.
_CELLS_AS_ONE = 16.0
# Rings run so far (1 sd) off the circle round their pith (rendered ends, development seeds).
_RING_WANDER_DEG = 6.0
_STRAY_DEG = 30.0
_FEWEST_CELLS = 25
# Less of the end that agrees with one pith than this is no reading.
_LEAST_AGREEING = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class RingFit:
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
    cells_mm, normals, weights
        What the fit stands on: places (N, 2), ring normals there (N, 2), weights (N,).
    """

    middle_mm: tuple[float, float]
    towards_rad: float
    curvature: float
    covariance: Floats
    agreeing: float
    seen_share: float
    rival: float
    cells_mm: Floats
    normals: Floats
    weights: Floats

    def inward(self, points_mm: Floats) -> Floats:
        """Return the unit vectors (N, 2) from points towards the pith."""
        return _unit(_aims(np.array([self.towards_rad, self.curvature]), points_mm, self.middle_mm))

    def growth_at(self, point_mm: tuple[float, float], reach_mm: float) -> tuple[Floats, float]:
        """Return the unit vector in which the rings grow round a place, and its U in degrees.

        The rings seen within ``reach_mm`` say it, and the one pith of all where few are seen;
        what runs quite another way (a check, a ray, a knot) is left out.
        """
        point = np.array([point_mm])
        model = -self.inward(point)[0]
        u_model = float(np.hypot(self.u_deg(point)[0], 2 * _RING_WANDER_DEG))
        off = (self.cells_mm - point) / reach_mm
        weight = self.weights * np.exp(-0.5 * (2 * off**2).sum(axis=1))
        normals = self.normals * np.sign(self.normals @ model + 1e-12)[:, None]
        turns = np.arctan2(model[0] * normals[:, 1] - model[1] * normals[:, 0], normals @ model)
        weight = weight * np.exp(-((turns / np.radians(_STRAY_DEG)) ** 2))
        have = float(weight.sum())
        mean = float((weight * turns).sum()) / max(have, 1e-9)
        scatter = float(np.sqrt((weight * (turns - mean) ** 2).sum() / max(have, 1e-9)))
        count = max(have**2 / max(float((weight**2).sum()), 1e-12) / _CELLS_AS_ONE, 1e-3)
        u_local = 2 * np.degrees(max(scatter, np.radians(3.0))) / np.sqrt(count)
        share = u_model**2 / (u_model**2 + u_local**2)
        turn = share * mean
        c, s = np.cos(turn), np.sin(turn)
        growth = np.array([c * model[0] - s * model[1], s * model[0] + c * model[1]])
        return growth, float(1 / np.hypot(1 / u_model, 1 / u_local))

    def u_deg(self, points_mm: Floats) -> Floats:
        """Return U (95 %) of the ring direction at points, degrees."""
        at = np.array([self.towards_rad, self.curvature])
        steps = np.sqrt(np.diag(self.covariance))
        here = _angles(_aims(at, points_mm, self.middle_mm))
        jacobian = np.stack(
            [
                _turn(_angles(_aims(at + step * axis, points_mm, self.middle_mm)) - here) / step
                for axis, step in zip(np.eye(2), np.maximum(steps, 1e-9), strict=True)
            ],
            axis=1,
        )
        variance = np.einsum("ni,ij,nj->n", jacobian, self.covariance, jacobian)
        return np.asarray(np.degrees(2 * np.sqrt(variance)))

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


def _aims(at: Floats, points: Floats, middle: tuple[float, float]) -> Floats:
    """Return vectors from points to the pith, times the curvature."""
    direction = np.array([np.cos(at[0]), np.sin(at[0])])
    return np.asarray(direction - at[1] * (points - np.array(middle)))


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-9))


def _angles(vectors: Floats) -> Floats:
    return np.asarray(np.arctan2(vectors[:, 1], vectors[:, 0]))


def _turn(angles: Floats) -> Floats:
    """Return turns between directions without an arrow, -pi/2 to pi/2."""
    return np.asarray((angles + np.pi / 2) % np.pi - np.pi / 2)


def fit_rings(
    pixels: NDArray[np.uint8], wood: NDArray[np.bool_], mm_per_px: float
) -> RingFit | None:
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
    J. Bigun and G. H. Granlund 1987 (structure tensor); R. Holland and R. Welsch 1977 (weights).
    """
    points, normals, weights, seen = _cells(pixels, wood, mm_per_px)
    if len(points) < _FEWEST_CELLS:
        return None
    rows, columns = np.nonzero(wood)
    middle = (float(columns.mean()) * mm_per_px, float(rows.mean()) * mm_per_px)
    best, rival = _rough_fit(points, normals, weights, middle)
    wander = np.radians(_WANDER_DEG)

    def off(at: Floats) -> Floats:
        aims = _unit(_aims(at, points, middle))
        across = normals[:, 0] * aims[:, 1] - normals[:, 1] * aims[:, 0]
        return np.asarray(np.sqrt(weights) * np.arcsin(np.clip(across, -1, 1)) / wander)

    solved = least_squares(
        off, best, loss="cauchy", x_scale=np.array([0.05, 0.001]),
        bounds=([-np.inf, 0.0], [np.inf, 1 / _NEAREST_MM]),
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
    return RingFit(
        middle_mm=middle,
        towards_rad=float(solved.x[0]),
        curvature=float(solved.x[1]),
        covariance=np.asarray(covariance),
        agreeing=agreeing,
        seen_share=seen,
        rival=rival,
        cells_mm=points,
        normals=normals,
        weights=weights,
    )


def _cells(
    pixels: NDArray[np.uint8], wood: NDArray[np.bool_], mm_per_px: float
) -> tuple[Floats, Floats, Floats, float]:
    """Return places (N, 2) mm, ring normals (N, 2), weights (N,), and the share that has any."""
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    weight = wood.astype(np.float32)
    light = np.where(wood, np.log(np.maximum(grey, 3.0)), 0).astype(np.float32)

    def mean(values: NDArray[np.float32], sigma_mm: float) -> NDArray[np.float32]:
        sigma = sigma_mm / mm_per_px
        top = cv2.GaussianBlur(values * weight, (0, 0), sigma)
        bottom = cv2.GaussianBlur(weight, (0, 0), sigma)
        return np.asarray(top / np.maximum(bottom, 1e-4), dtype=np.float32)

    flat = np.where(wood, light - mean(light, _BROAD_MM), 0).astype(np.float32)
    spread = float(flat[wood].std()) if wood.any() else 1.0
    flat = np.clip(flat, -2.5 * spread, 2.5 * spread)
    rim = max(1, round(_RIM_MM / mm_per_px))
    padded = cv2.copyMakeBorder(wood.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    deep = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    inner = (deep > rim).astype(np.float32)
    step = max(1, round(_GRID_MM / mm_per_px))
    grid = np.s_[step // 2 :: step, step // 2 :: step]
    gather = _GATHER_MM / mm_per_px
    near = np.maximum(cv2.GaussianBlur(inner, (0, 0), gather)[grid], 1e-4)
    lines = np.arange(_WAYS) * np.pi / _WAYS
    power = []
    for way in lines:
        dark = np.maximum(-cv2.filter2D(flat, cv2.CV_32F, _line_filter(way, mm_per_px)), 0)
        power.append(cv2.GaussianBlur(dark * dark * inner, (0, 0), gather)[grid] / near)
    energy = np.stack(power).astype(np.float64)
    inside = inner[grid] > 0
    # Squared once more: one clear set of lines counts, not the sum of all that is a little lined.
    doubled = np.tensordot(np.exp(2j * lines), energy**2, axes=1)
    coherence = np.abs(doubled) / np.maximum((energy**2).sum(axis=0), 1e-12)
    total = np.sqrt((energy**2).sum(axis=0))
    typical = float(np.median(total[inside])) if inside.any() else 1.0
    clear = inside & (coherence > _LEAST_COHERENCE) & (total > 0.1 * typical)
    angle = (0.5 * np.angle(doubled) + np.pi / 2)[clear]
    v, u = np.nonzero(clear)
    points = (np.column_stack([u, v]) * step + step // 2) * mm_per_px
    weights = coherence[clear] ** 2 * np.clip(total[clear] / max(typical, 1e-12), 0.2, 1.5)
    seen = float(clear.sum() / max(int(inside.sum()), 1))
    normals = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.asarray(points, dtype=np.float64), normals, np.asarray(weights), seen


def _line_filter(way_rad: float, mm_per_px: float) -> NDArray[np.float32]:
    """Return a kernel that answers to a dark line which runs one way (negative there)."""
    reach = round(3 * _LINE_LONG_MM / mm_per_px)
    v, u = np.mgrid[-reach : reach + 1, -reach : reach + 1] * mm_per_px
    along = u * np.cos(way_rad) + v * np.sin(way_rad)
    across = -u * np.sin(way_rad) + v * np.cos(way_rad)
    share = (across / _LINE_MM) ** 2
    kernel = (1 - share) * np.exp(-0.5 * share - 0.5 * (along / _LINE_LONG_MM) ** 2)
    kernel -= kernel.mean()
    return np.asarray(kernel / np.abs(kernel).sum(), dtype=np.float32)


def _rough_fit(
    points: Floats, normals: Floats, weights: Floats, middle: tuple[float, float]
) -> tuple[Floats, float]:
    """Return the best of a grid of piths, and how well the best quite other direction does."""
    wander = np.radians(_WANDER_DEG)
    tried = []
    for towards in np.radians(np.arange(0, 360, 4)):
        for curvature in (0.0, *(1 / np.array([600, 300, 180, 120, 85, 60, 45, 32, 22, 15]))):
            at = np.array([towards, curvature])
            aims = _unit(_aims(at, points, middle))
            sine = normals[:, 0] * aims[:, 1] - normals[:, 1] * aims[:, 0]
            tried.append((float((weights * np.exp(-((sine / wander) ** 2))).sum()), at))
    most, best = max(tried, key=lambda one: one[0])
    turned = [
        score
        for score, at in tried
        if abs(float(_turn(np.array([at[0] - best[0]]))[0])) > np.radians(30)
    ]
    return best, max(turned) / max(most, 1e-9)
