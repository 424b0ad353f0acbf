"""Which flaws of two faces that lie over each other are one flaw that comes through."""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from shapely.geometry import Polygon

from scanner.board.flaw import CRACKS, Flaw, FlawKind
from scanner.board.reading import span_along_y_mm

# What one may look like the other of on the other face: a knot may have fallen out there.
_SPOTS = (FlawKind.KNOT, FlawKind.HOLE, FlawKind.BARK_POCKET)
_MADE_THROUGH = (*_SPOTS, FlawKind.ROT, *CRACKS)
# Cracks that lie this close on both faces may be one crack, whatever the thickness.
_CRACK_APART_MM = 15.0
# Cracks and branches lean by this at most: mm across for each mm of thickness.
_STEEPEST = 0.95
# Steps across that agree within this keep one rule; a rule is drawn through flaws this far apart.
_LEAN_AGREES_MM = 3.0
_FAR_APART_MM = 15.0
_NEVER = 1e6
# Knots that count as evidence for one board.
_SURE_KNOT_MM, _SURE_KNOT_SCORE = 9.0, 0.8


def partners(
    front: tuple[Flaw, ...], back: tuple[Flaw, ...], thickness_mm: float
) -> list[tuple[int, int]]:
    """Return index pairs of flaws that are one flaw seen on both faces.

    Branches and cracks point at the pith, so all that come through lean by one rule: the step
    across the board grows evenly with the distance from the line above the pith. The rule that
    most of the possible pairs keep decides which belong together.
    """
    able = [(i, j) for i, one in enumerate(front) for j, two in enumerate(back)
            if one.kind in _MADE_THROUGH and _same_family(one.kind, two.kind)]  # fmt: skip
    pairs = []
    for i, j in able:
        step = _step_mm(front[i], back[j])
        if step is not None and _may_be_one(front[i], back[j], step, thickness_mm):
            pairs.append((i, j, *step, _middle_y(front[i])))
    if not pairs:
        return []
    found = np.array(pairs)
    lean = _common_lean(found, thickness_mm)
    off = np.abs(found[:, 3] - lean[0] - lean[1] * found[:, 4])
    cost = np.full((len(front), len(back)), _NEVER)
    cost[found[:, 0].astype(int), found[:, 1].astype(int)] = off + 0.5 * np.abs(found[:, 2])
    rows, columns = linear_sum_assignment(cost)
    kept = cost[rows, columns] < _NEVER
    return [(int(i), int(j)) for i, j in zip(rows[kept], columns[kept], strict=True)]


def _step_mm(one: Flaw, two: Flaw) -> tuple[float, float] | None:
    """Return the step along and across the board from face 1's flaw to face 2's.

    Cracks are compared where both show, and have no step along; None where they nowhere do.
    """
    a, b = one.outlines[1], two.outlines[1]
    if one.kind not in CRACKS:
        return (b.centroid.x - a.centroid.x, b.centroid.y - a.centroid.y)
    low, high = max(a.bounds[0], b.bounds[0]), min(a.bounds[2], b.bounds[2])
    if high < low - _CRACK_APART_MM:
        return None
    at = 0.5 * (low + high)
    return (0.0, _y_near(b, at) - _y_near(a, at))


def _y_near(shape: Polygon, x_mm: float) -> float:
    """Return the middle y of a thin shape at x, or at its nearest end."""
    low, _, high, _ = shape.bounds
    span = span_along_y_mm(shape, float(np.clip(x_mm, low + 0.5, max(high - 0.5, low + 0.5))))
    return float(np.mean(span)) if span else float(shape.centroid.y)


def _middle_y(flaw: Flaw) -> float:
    return float(flaw.outlines[1].centroid.y)


def _may_be_one(one: Flaw, two: Flaw, step: tuple[float, float], thickness_mm: float) -> bool:
    """Return whether two flaws can be one by their distance alone.

    A branch leaves the pith at 45-90 degrees, so it wanders along by no more than the thickness;
    across the board it follows the radius, 45 degrees at most but for boards sawn at the pith
    (common practice, no source). What large shapes are off their middles is allowed for.
    """
    if one.kind in CRACKS:
        return abs(step[1]) <= max(_CRACK_APART_MM, _STEEPEST * thickness_mm)
    size = 0.25 * (one.outlines[1].area ** 0.5 + two.outlines[1].area ** 0.5)
    return bool(abs(step[0]) <= 0.9 * thickness_mm + size and abs(step[1]) <= thickness_mm + size)


def _common_lean(pairs: NDArray[np.float64], thickness_mm: float) -> tuple[float, float]:
    """Return (at y = 0, per mm of y) of the step across that most pairs agree on.

    ``pairs`` has columns i, j, step along, step across, y on face 1. Rules through every two pairs
    are tried, and no lean at all; a flaw counts once for the pair that keeps the rule best.
    """
    y, step = pairs[:, 4], pairs[:, 3]
    tried = [(0.0, 0.0), *((float(v), 0.0) for v in step)]
    for a in range(len(pairs)):
        for b in range(a + 1, len(pairs)):
            if abs(y[a] - y[b]) > _FAR_APART_MM and len({*pairs[[a, b], 0]}) == 2:
                slope = float((step[a] - step[b]) / (y[a] - y[b]))
                # The pith lies at least half a thickness beyond a face, or few boards would do.
                if abs(slope) <= 1.0:
                    tried.append((float(step[a] - slope * y[a]), slope))
    best, most = tried[0], -1.0
    for at, slope in tried:
        off = (step - at - slope * y) / _LEAN_AGREES_MM
        alike = np.exp(-0.5 * off**2 - 0.5 * (pairs[:, 2] / thickness_mm) ** 2)
        agreed = sum(float(alike[pairs[:, 0] == i].max()) for i in np.unique(pairs[:, 0]))
        # A steep rule must explain more than a flat one.
        agreed -= 0.2 * abs(slope)
        if agreed > most:
            best, most = (at, slope), agreed
    return best


def _same_family(a: FlawKind, b: FlawKind) -> bool:
    """Return whether one flaw may look like both: a knot may have fallen out on one face."""
    return a is b or (a in CRACKS and b in CRACKS) or (a in _SPOTS and b in _SPOTS)


def knots_unlike(front: tuple[Flaw, ...], back: tuple[Flaw, ...], thickness_mm: float) -> int:
    """Return how many sure knots each face has at least, if not one of them comes through; else 0.

    Most knots come through a board; where none of several do, the faces are hardly of one board.
    """
    first, second = (tuple(flaw for flaw in flaws if is_sure_knot(flaw)) for flaws in (front, back))
    return 0 if partners(first, second, thickness_mm) else min(len(first), len(second))


def is_spot(flaw: Flaw) -> bool:
    """Return whether a flaw is a knot or may be what a knot left."""
    return flaw.kind in _SPOTS


def is_sure_knot(flaw: Flaw) -> bool:
    """Return whether a knot counts as evidence for one board or against it."""
    if flaw.kind is not FlawKind.KNOT:
        return False
    large = flaw.outlines[1].area > np.pi / 4 * _SURE_KNOT_MM**2
    return large and (flaw.score is None or flaw.score >= _SURE_KNOT_SCORE)
