"""Which markers lie on their strip: in order, evenly spaced, and square as their neighbours are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.geometry.strip_layout import MARKER_MM, PITCH_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats

# Half a marker's side in steps of the strip, and by what share its sides may differ from that.
_HALF, _ODD_SIDE = 0.5 * MARKER_MM / PITCH_MM, 0.35
# A corner must lie where the markers beside it (so many) put it: a thing that covers a piece of a
# marker bends its sides. Joints and an uneven floor move markers by less than this.
_BESIDE, _BENT_PX, _BENT_MM = 6, 1.5, 0.8
# Where all corners lie within this share of that at a quick look none is looked at with care (on
# 108 rendered and drawn strips both looks differed by at most 0.05 of it).
_PLAINLY = 0.9
# Of more markers than this none is a few covered ones: the strip itself is bent.
_MOST_BENT = 0.25

# A marker's corners about its middle, in steps of the strip.
_SQUARE = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]]) * _HALF
# No division by nothing where markers lie upon each other.
_STEADY = 1e-12


def sides_px(corners: Floats) -> Floats:
    """Return the mean side of each marker, px."""
    return np.asarray(np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).mean(axis=1))


def _line_model(numbers: Floats, centres: Floats) -> Floats:
    """Return (u0, u1, v0, v1, c) of centres = (u0 + u1 k, v0 + v1 k) / (1 + c k)."""
    count = len(numbers)
    A = np.zeros((2 * count, 5))
    A[:count, 0], A[:count, 1], A[:count, 4] = 1.0, numbers, -numbers * centres[:, 0]
    A[count:, 2], A[count:, 3], A[count:, 4] = 1.0, numbers, -numbers * centres[:, 1]
    b = np.concatenate([centres[:, 0], centres[:, 1]])
    return np.asarray(np.linalg.lstsq(A, b, rcond=None)[0])


def _on_line_model(model: Floats, numbers: Floats) -> Floats:
    scale = 1.0 + model[4] * numbers
    scale = np.where(np.abs(scale) > 1e-6, scale, np.nan)
    flat = np.column_stack([model[0] + model[1] * numbers, model[2] + model[3] * numbers])
    return np.asarray(flat / scale[:, None])


def in_order(numbers: NDArray[np.int_], corners: Floats, seed: int = 0) -> NDArray[np.bool_]:
    """Return which markers of one reference lie on a line in order, spaced as perspective asks.

    A marker read by chance out of wood grain lies anywhere. The spacing test is projective:
    a test for even spacing drops true markers at steep tilts.
    """
    centres, sides = corners.mean(axis=1), sides_px(corners)
    count = len(numbers)
    tolerance = np.maximum(4.0, 0.35 * sides)
    best = np.zeros(count, dtype=bool)
    if count < 3:
        return np.ones(count, dtype=bool)
    random = np.random.default_rng(seed)
    values = numbers.astype(np.float64)
    along = (corners[:, 1] - corners[:, 0] + corners[:, 2] - corners[:, 3]) / 2
    for _ in range(300):
        chosen = random.choice(count, 3, replace=False)
        if len(np.unique(numbers[chosen])) < 3:
            continue
        model = _line_model(values[chosen], centres[chosen])
        there = _on_line_model(model, values)
        off = np.linalg.norm(there - centres, axis=1)
        agree = np.nan_to_num(off, nan=np.inf) < tolerance
        # A marker's own sides along the strip must agree with the spacing too (not its reach along
        # it: a steep view across shears the square).
        step = _on_line_model(model, values + _HALF) - _on_line_model(model, values - _HALF)
        off = np.linalg.norm(along - step, axis=1)
        agree &= np.nan_to_num(off, nan=np.inf) < _ODD_SIDE * np.linalg.norm(step, axis=1)
        if agree.sum() > best.sum():
            best = agree
        if best.sum() == count:
            break
    return best


def are_whole(numbers: NDArray[np.int_], corners: Floats) -> NDArray[np.bool_]:
    """Return which markers of one reference look square and in place from those beside them.

    Parameters
    ----------
    numbers
        (N,) along the reference.
    corners
        (N, 4, 2) refined, px.
    """
    keep = np.ones(len(numbers), dtype=bool)
    if len(numbers) <= _BESIDE:
        return keep
    tolerance = np.maximum(_BENT_PX, _BENT_MM / MARKER_MM * sides_px(corners))
    if (_about_off_neighbours(numbers, corners) < _PLAINLY * tolerance).all():
        return keep
    off = _off_neighbours(numbers, corners, keep)
    # The worst first: it spoils what is expected of its neighbours.
    while keep.sum() > _BESIDE and (off > tolerance).any():
        keep[int((off / tolerance).argmax())] = False
        off = _off_neighbours(numbers, corners, keep)
    if (~keep).mean() > _MOST_BENT:
        return np.ones(len(numbers), dtype=bool)
    return keep


def _about_off_neighbours(numbers: NDArray[np.int_], corners: Floats) -> Floats:
    """Return about the same as `_off_neighbours` of all markers, at a tenth of its time.

    Homographies of least algebraic error, all at once: none is settled by its error in the picture.
    """
    away = np.abs(numbers[:, None] - numbers[None]).astype(np.float64)
    away[away == 0] = np.inf  # The marker itself, and its number read twice.
    near = np.argsort(away, axis=1, kind="stable")[:, :_BESIDE]
    if not np.isfinite(np.take_along_axis(away, near, axis=1)).all():
        return np.full(len(numbers), np.inf)
    # Counted from each marker and in its own size, so that all numbers are about 1.
    middle, side = corners.mean(axis=1), sides_px(corners)
    flat = (numbers[near] - numbers[:, None])[..., None, None] * np.array([1.0, 0.0]) + _SQUARE
    flat = flat.reshape(len(numbers), -1, 2)
    seen = (corners[near] - middle[:, None, None]) / side[:, None, None, None]
    seen = seen.reshape(len(numbers), -1, 2)
    ones, zeros = np.ones_like(flat[..., :1]), np.zeros_like(flat)
    place = np.concatenate([flat, ones], axis=2)
    nothing = np.concatenate([zeros, zeros[..., :1]], axis=2)
    rows = np.concatenate(
        [
            np.concatenate([place, nothing, -flat * seen[..., :1]], axis=2),
            np.concatenate([nothing, place, -flat * seen[..., 1:]], axis=2),
        ],
        axis=1,
    )
    told = np.concatenate([seen[..., 0], seen[..., 1]], axis=1)[..., None]
    across = rows.transpose(0, 2, 1)
    move = np.linalg.solve(across @ rows + _STEADY * np.eye(8), across @ told)[..., 0]
    scale = 1 + _SQUARE @ move[:, 6:, None]
    there = np.concatenate(
        [(_SQUARE @ move[:, at : at + 2, None] + move[:, at + 2, None, None]) for at in (0, 3)],
        axis=2,
    )
    off = np.linalg.norm(there / scale - (corners - middle[:, None]) / side[:, None, None], axis=2)
    return np.asarray(off.max(axis=1) * side)


def _off_neighbours(numbers: NDArray[np.int_], corners: Floats, keep: NDArray[np.bool_]) -> Floats:
    """Return how far the worst corner of each kept marker is from its place, px (others 0)."""
    off = np.zeros(len(numbers))
    for row in np.flatnonzero(keep):
        others = np.flatnonzero(keep & (numbers != numbers[row]))
        near = others[np.argsort(np.abs(numbers[others] - numbers[row]), kind="stable")[:_BESIDE]]
        if len(near) < 3:
            continue
        flat = (numbers[near] - numbers[row])[:, None, None] * np.array([1.0, 0.0]) + _SQUARE
        move, _ = cv2.findHomography(flat.reshape(-1, 2), corners[near].reshape(-1, 2))
        if move is None:
            continue
        there = cv2.perspectiveTransform(_SQUARE[None], move)[0]
        off[row] = float(np.linalg.norm(there - corners[row], axis=1).max())
    return off
