"""X's and lines across looked for by going along them, where their strokes are only dabs."""

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

_PARTS = 24
# An X's strokes, px of a millimetre: how long, how alike in length, at least how far off the grain
# and off each other (degrees), and where on each the other crosses it, parts of its length.
_NEAR_PX, _LEAST_PX, _TRIES, _APART_PX = 15, 40, 1000, 130.0
_STROKE_PX, _ALIKE = (36.0, 220.0), 0.4
_OFF_GRAIN_DEG, _OFF_EACH_OTHER_DEG, _CROSSED_AT = 14.0, 35.0, 0.15
# What a longer X is worth, of a part's ink, a millimetre.
_LONGER = 0.01
_A_CLUSTER, _MOST_TRIED = 4, 24
# A line across: its slopes, how near the arrises it is looked for, and how far from an end at
# least: nearer lies the paint of ends.
_SLOPES = np.arange(-0.24, 0.25, 0.04)
_OFF_ARRIS_PX, _OFF_END_PX, _LINES_TRIED, _LINES_APART_PX = 4.0, 40.0, 8, 12.0


def crosses_gone_along(seen: SeenColours, may_be: Bools) -> list[Course]:
    """Return the X's that carry most ink, the best first.

    ``may_be``: (H, W), the pixels that a stroke may have.
    """
    rng = np.random.default_rng(0)
    plain = plainness(seen)
    found: list[tuple[float, Numbers]] = []
    # Its flatter stroke is as high as this where it is shortest.
    for points in near_pieces(may_be, _NEAR_PX, _NEAR_PX + 14, _LEAST_PX):
        tips = _through(points, rng)
        more = _more_than_beside(plain, tips)
        order = np.argsort(-more)[: 8 * _A_CLUSTER]
        kept: list[int] = []
        for one in order:
            middle = tips[one].mean(axis=0)
            if len(kept) < _A_CLUSTER and all(
                np.abs(middle - tips[other].mean(axis=0)).max() > 6 for other in kept
            ):
                kept.append(int(one))
        found += [(float(more[one]), tips[one]) for one in kept]
    found.sort(key=lambda one: -one[0])

    def moved(tips: Numbers, wide_px: float) -> list[Tried]:
        return _tried(seen, tips + rng.normal(0, wide_px, (MOVES_AT_ONCE, *tips.shape)))

    tried = _tried(seen, np.array([tips for _, tips in found[:_MOST_TRIED]])) if found else []
    return [
        Course(_strokes(tips, carries), carries)
        for _, tips, carries in best_places(tried, moved)
        if _is_cross(tips[None])[0]
    ]


def lines_gone_along(seen: SeenColours) -> list[Course]:
    """Return the lines from arris to arris that carry most ink, the best first."""
    rng = np.random.default_rng(0)
    rows, columns = (np.flatnonzero(seen.wood.any(axis=axis)) for axis in (1, 0))
    low, high = rows[0] + _OFF_ARRIS_PX, rows[-1] - _OFF_ARRIS_PX
    first, last = columns[0] + _OFF_END_PX, columns[-1] - _OFF_END_PX
    if high - low < _STROKE_PX[0] or last <= first:
        return []
    x, slope = (v.ravel() for v in np.meshgrid(np.arange(first, last, 3.0), _SLOPES))
    aside = 0.5 * slope * (high - low)
    tips = np.stack(
        [
            np.column_stack([x - aside, np.full_like(x, low)]),
            np.column_stack([x + aside, np.full_like(x, high)]),
        ],
        axis=1,
    )
    more = _more_than_beside(plainness(seen), tips)
    kept: list[int] = []
    for one in np.argsort(-more)[:400]:
        if len(kept) < _LINES_TRIED and all(abs(x[one] - x[k]) > _LINES_APART_PX for k in kept):
            kept.append(int(one))

    def moved(tips: Numbers, wide_px: float) -> list[Tried]:
        aside = rng.normal(0, wide_px, (MOVES_AT_ONCE, 2))
        return _tried(seen, tips + np.stack([aside, np.zeros_like(aside)], axis=-1))

    return [
        Course(_strokes(tips, carries), carries)
        for _, tips, carries in best_places(_tried(seen, tips[kept]), moved)
        if first <= tips[:, 0].min() and tips[:, 0].max() <= last
    ]


def _tried(seen: SeenColours, tips: Numbers) -> list[Tried]:
    """Return what strokes from tip to tip carry, (M, 2 N, 2): N strokes a mark."""
    strokes = tips.shape[1] // 2
    start, end = tips[:, ::2, None], tips[:, 1::2, None]
    steps = np.linspace(0, 1, _PARTS // strokes * POINTS_A_PART)[:, None]
    way = end - start
    long = np.maximum(np.linalg.norm(way, axis=-1, keepdims=True), 1e-9)
    at = start + steps * way
    out = np.broadcast_to(way[..., ::-1] * [-1.0, 1.0] / long, at.shape)
    flat = len(tips), -1, 2
    all_carry = carried(seen.lab, at.reshape(flat), out.reshape(flat), seen.metric)
    longer = _LONGER * long.sum(axis=(1, 2, 3)) if strokes > 1 else np.zeros(len(tips))
    return [
        (merit(one) + float(more), own, one)
        for own, one, more in zip(tips, all_carry, longer, strict=True)
    ]


def _across(way: Numbers) -> Numbers:
    return np.asarray(np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), 1e-9))


def _strokes(tips: Numbers, carries: Carried) -> tuple[Numbers, ...]:
    """Return each stroke's points where its ink lies, (M, 2)."""
    made = []
    wavers = carries.wavers_px.reshape(len(tips) // 2, -1)
    for start, end, own in zip(tips[::2], tips[1::2], wavers, strict=True):
        steps = np.linspace(0, 1, len(own))[:, None]
        made.append(start + steps * (end - start) + own[:, None] * _across(end - start))
    return tuple(made)


def _through(points: Numbers, rng: np.random.Generator) -> Numbers:
    """Return the tips of X's, each at four of the points, (N, 4, 2)."""
    tips = fours_of(points, _TRIES, _APART_PX, rng)
    return np.asarray(tips[_is_cross(tips)])


def _is_cross(tips: Numbers) -> Bools:
    """Return which of (N, 4, 2) tips make an X as a hand draws it."""
    one, two = tips[:, 1] - tips[:, 0], tips[:, 3] - tips[:, 2]
    between = tips[:, 2] - tips[:, 0]
    with np.errstate(all="ignore"):
        turn = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
        on_one = (between[:, 0] * two[:, 1] - between[:, 1] * two[:, 0]) / turn
        on_two = (between[:, 0] * one[:, 1] - between[:, 1] * one[:, 0]) / turn
        long_one, long_two = np.hypot(*one.T), np.hypot(*two.T)
        apart = np.abs(turn) / (long_one * long_two)
        shorter, longer = np.minimum(long_one, long_two), np.maximum(long_one, long_two)
        off_grain = np.minimum(np.abs(one[:, 1]) / long_one, np.abs(two[:, 1]) / long_two)
        crossed = np.minimum(np.minimum(on_one, 1 - on_one), np.minimum(on_two, 1 - on_two))
        return np.asarray(
            (crossed > _CROSSED_AT)
            & (shorter > _STROKE_PX[0])
            & (longer < _STROKE_PX[1])
            & (shorter > _ALIKE * longer)
            & (one[:, 0] * one[:, 1] * two[:, 0] * two[:, 1] < 0)
            & (off_grain > np.sin(np.radians(_OFF_GRAIN_DEG)))
            & (apart > np.sin(np.radians(_OFF_EACH_OTHER_DEG)))
        )


def _more_than_beside(plain: NDArray[np.float32], tips: Numbers) -> Numbers:
    """Return how much plainer strokes are than what lies beside them, (N,): the fainter stroke."""
    height, width = plain.shape
    steps = np.linspace(0, 1, _PARTS)[None, :, None]
    least = np.full(len(tips), np.inf)
    for stroke in range(0, tips.shape[1], 2):
        start, end = tips[:, stroke, None], tips[:, stroke + 1, None]
        way = (end - start) / np.maximum(np.linalg.norm(end - start, axis=-1, keepdims=True), 1e-9)
        at, out = start + steps * (end - start), way[..., ::-1] * [-1.0, 1.0]
        on, one, other = (
            plain[
                np.clip(np.rint(there[..., 1]).astype(int), 0, height - 1),
                np.clip(np.rint(there[..., 0]).astype(int), 0, width - 1),
            ]
            for there in (at, at - 7 * out, at + 7 * out)
        )
        least = np.minimum(least, np.clip(on - np.maximum(one, other), -2, 4).mean(axis=1))
    return least
