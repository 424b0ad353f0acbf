"""Loops looked for by going round them, where their strokes are only dabs or hold a knot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.flaws.along_course import (
    MOVES_AT_ONCE,
    POINTS_A_PART,
    Course,
    best_places,
    carried,
    fours_of,
    merit,
    near_pieces,
    plainness,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.flaws.along_course import Carried, Numbers, Tried
    from scanner.vision.flaws.chalk_colour import Bools
    from scanner.vision.flaws.closer_look import SeenColours

# Parts of a course.
_PARTS = 24
_POINTS = _PARTS * POINTS_A_PART
_ROUND = np.linspace(0, 2 * np.pi, _POINTS, endpoint=False)
# Pixels so near (px of a millimetre) are tried together; so many there must be; so many tries.
_NEAR_PX, _LEAST_PX, _TRIES = 11, 40, 250
# Half the height and width of a loop, px, and how high one is for its width.
_HALF_PX, _HIGH_PX, _SHAPE = (13.0, 120.0), 100.0, (0.33, 2.0)
# Pieces farther from the first point than this belong to something else.
_APART_PX = 110.0
_A_CLUSTER, _MOST_TRIED = 6, 40


def loops_gone_round(seen: SeenColours, may_be: Bools) -> list[Course]:
    """Return the loops that carry most ink, the best first.

    ``may_be``: (H, W), the pixels that a stroke may have.
    """
    rng = np.random.default_rng(0)

    def moved(ellipse: Numbers, wide_px: float) -> list[Tried]:
        ellipses = ellipse + rng.normal(0, wide_px, (MOVES_AT_ONCE, 4))
        return _round(seen, ellipses[ellipses[:, 2:].min(axis=1) > _HALF_PX[0] - 2])

    ellipses = _ellipses(seen, may_be, rng)[:_MOST_TRIED]
    tried = _round(seen, np.array(ellipses)) if ellipses else []
    return [
        Course((_stroke_middle(ellipse, carries),), carries)
        for _, ellipse, carries in best_places(tried, moved)
    ]


def _round(seen: SeenColours, ellipses: Numbers) -> list[Tried]:
    """Return what ellipses (M, 4) carry on the way round."""
    out = np.column_stack([np.cos(_ROUND), np.sin(_ROUND)])
    at = ellipses[:, None, :2] + out * ellipses[:, None, 2:]
    all_carry = carried(seen.lab, at, np.broadcast_to(out, at.shape), seen.metric)
    return [(merit(one), own, one) for own, one in zip(ellipses, all_carry, strict=True)]


def _stroke_middle(ellipse: Numbers, carries: Carried) -> Numbers:
    turn = _ROUND.reshape(_PARTS, -1).mean(axis=1)
    out = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(ellipse[:2] + out * (ellipse[2:] + carries.wavers_px[:, None]))


def _ellipses(seen: SeenColours, may_be: Bools, rng: np.random.Generator) -> list[Numbers]:
    """Return ellipses (x, y, half width, half height) through unusual pixels."""
    plain = plainness(seen)
    found: list[tuple[float, Numbers]] = []
    for points in near_pieces(may_be, _NEAR_PX, 2 * _HALF_PX[0] + _NEAR_PX - 2, _LEAST_PX):
        ellipses = _through(points, rng)
        found += _plainest(ellipses, plain)
    found.sort(key=lambda one: -one[0])
    return [ellipse for _, ellipse in found]


def _through(points: Numbers, rng: np.random.Generator) -> Numbers:
    """Return ellipses along the axes through four of the points each, (N, 4)."""
    chosen = fours_of(points, _TRIES, _APART_PX, rng)
    middle = chosen.mean(axis=1, keepdims=True)
    x, y = np.moveaxis((chosen - middle) / 20.0, -1, 0)
    conic = np.stack([x**2, y**2, x, y], axis=-1)
    solvable = np.abs(np.linalg.det(conic)) > 1e-4
    p, q, r, s = np.linalg.solve(conic[solvable], np.ones((int(solvable.sum()), 4, 1)))[..., 0].T
    with np.errstate(all="ignore"):
        x0, y0 = -r / (2 * p), -s / (2 * q)
        size = 1 + p * x0**2 + q * y0**2
        wide, high_px = 20 * np.sqrt(size / p), 20 * np.sqrt(size / q)
        at = 20 * np.column_stack([x0, y0]) + middle[solvable, 0]
        may_be = (
            (np.minimum(wide, high_px) > _HALF_PX[0])
            & (wide < _HALF_PX[1])
            & (high_px < _HIGH_PX)
            & (high_px > _SHAPE[0] * wide)
            & (high_px < _SHAPE[1] * wide)
        )
    return np.asarray(np.column_stack([at, wide, high_px])[may_be], np.float64)


def _plainest(ellipses: Numbers, plain: NDArray[np.float32]) -> list[tuple[float, Numbers]]:
    """Return the few ellipses that lie most on unusual pixels, with less inside and outside."""
    if not len(ellipses):
        return []
    height, width = plain.shape
    turn = _ROUND[::2]

    def along(out_px: float) -> NDArray[np.float32]:
        x = ellipses[:, :1] + (ellipses[:, 2:3] + out_px) * np.cos(turn)
        y = ellipses[:, 1:2] + (ellipses[:, 3:] + out_px) * np.sin(turn)
        at = np.clip(np.rint([y, x]), 0, [[[height - 1]], [[width - 1]]]).astype(int)
        return np.asarray(plain[at[0], at[1]])

    more = np.clip(along(0) - np.maximum(along(-7), along(7)), -2, 4).mean(axis=1)
    kept: list[tuple[float, Numbers]] = []
    for index in np.argsort(-more):
        if len(kept) == _A_CLUSTER:
            break
        if all(np.abs(ellipses[index] - other).max() > 6 for _, other in kept):
            kept.append((float(more[index]), ellipses[index]))
    return kept
