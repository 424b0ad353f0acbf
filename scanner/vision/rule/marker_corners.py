"""A marker's corners to a tenth of a pixel: where lines fitted to its four sides meet."""

from __future__ import annotations

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled_grid
from scanner.vision.rule.marker_order import sides_px

SAMPLES_PER_SIDE = 24
PROFILE_STEPS = 33
# Edge width (10 to 90 % of an edge) above which corners get a larger sd: motion or focus.
SOFT_EDGE_PX = 4.0


def refine_corners(grey: Bytes, corners: Floats) -> tuple[Floats, Floats, Floats]:
    """Return sub-pixel corners (N, 4, 2), their sd (N,) and the edge width (N,), px.

    Each side: 24 profiles across it, the centre of the squared gradient in each, a robust line
    through the centres; neighbouring lines meet in the corner.
    """
    corners = corners.copy()
    window = np.clip(sides_px(corners) / 12, 1.5, 4.0)
    reach = np.linspace(-1, 1, PROFILE_STEPS) * (window + 1.0)[:, None]
    share = np.linspace(0.12, 0.88, SAMPLES_PER_SIDE)
    spread = np.zeros(len(corners))
    widths = np.zeros(len(corners))
    for is_last in (False, True):
        start, stop = corners, np.roll(corners, -1, axis=1)
        along = stop - start
        length = np.linalg.norm(along, axis=2, keepdims=True)
        along = along / np.maximum(length, 1e-9)
        # Corners run clockwise in the picture, so this points out of the black square.
        normal = np.stack([along[..., 1], -along[..., 0]], axis=-1)
        foot = start[:, :, None] + share[None, None, :, None] * (stop - start)[:, :, None]
        middle, weight = _gradients(grey, foot, normal, reach)
        total = weight.sum(axis=3)
        centre = (weight * middle).sum(axis=3) / np.maximum(total, 1e-9)
        if is_last:
            second = (weight * (middle - centre[..., None]) ** 2).sum(axis=3)
            width = 2.56 * np.sqrt(2.0 * second / np.maximum(total, 1e-9))
            widths = np.median(width.reshape(len(corners), -1), axis=1)
        offset, slope, scatter = _robust_offsets(centre, total, share)
        origin = start + offset[..., None] * normal
        direction = along + (slope / np.maximum(length[..., 0], 1e-9))[..., None] * normal
        corners = _meet(
            np.roll(origin, 1, axis=1), np.roll(direction, 1, axis=1), origin, direction
        )
        spread = scatter.mean(axis=1) / np.sqrt(SAMPLES_PER_SIDE / 4)
    sd = np.where(widths > SOFT_EDGE_PX, np.maximum(spread, 0.15 * widths), spread)
    return corners, sd, widths


def _gradients(grey: Bytes, foot: Floats, normal: Floats, reach: Floats) -> tuple[Floats, Floats]:
    """Return where along each profile it was looked, and the squared rise outwards there.

    Parameters
    ----------
    foot, normal
        (N, 4, S, 2) px, of each profile its middle; (N, 4, 2), of each side the way out.
    reach
        (N, P), how far from its middle each sample of a profile lies, px.
    """
    x, y = (
        foot[..., axis, None] + reach[:, None, None] * normal[..., axis][..., None, None]
        for axis in (0, 1)
    )
    flat = -1, reach.shape[1]
    values = (
        sampled_grid(grey, x.reshape(flat), y.reshape(flat)).astype(np.float64).reshape(x.shape)
    )
    # Derivative over about a pixel: finer steps would only differentiate noise.
    lag = 2
    rise = values[..., 2 * lag :] - values[..., : -2 * lag]
    np.maximum(0.0, rise, out=rise)
    rise /= 2 * lag * (reach[:, 1] - reach[:, 0])[:, None, None, None]
    rise *= rise
    return reach[:, None, None, lag:-lag], rise


def _robust_offsets(
    centre: Floats, strength: Floats, share: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return offset at the side's start, rise over the side and scatter, for each side (N, 4)."""
    weight = (strength > 0).astype(np.float64)
    offset = slope = scatter = np.zeros(centre.shape[:2])
    for _ in range(4):
        s0 = np.maximum(weight.sum(axis=2), 1e-9)
        s1, s2 = (weight * share).sum(axis=2), (weight * share**2).sum(axis=2)
        c0, c1 = (weight * centre).sum(axis=2), (weight * share * centre).sum(axis=2)
        det = np.maximum(s0 * s2 - s1**2, 1e-9)
        offset, slope = (c0 * s2 - c1 * s1) / det, (c1 * s0 - c0 * s1) / det
        off = centre - offset[..., None] - slope[..., None] * share
        scatter = np.maximum(0.05, 1.4826 * np.median(np.abs(off), axis=2))
        weight = np.clip(1 - (off / (4 * scatter[..., None])) ** 2, 0, None) ** 2 * (strength > 0)
    return offset, slope, scatter


def _meet(p: Floats, d: Floats, q: Floats, e: Floats) -> Floats:
    """Return where lines p + s d and q + r e meet, elementwise."""
    det = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    det = np.where(np.abs(det) > 1e-9, det, np.nan)
    step = q - p
    s = (step[..., 0] * e[..., 1] - step[..., 1] * e[..., 0]) / det
    return np.asarray(p + s[..., None] * d)
