"""Both sides of the pith show the same rings: how well they do, for places where it may lie."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter1d

from scanner.board.ring_series import STEP_MM
from scanner.vision.looks.followed_rings import outward

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.vision.looks.followed_rings import Floats, FollowedRings

# Sides are compared in windows of this sd, and rings may lie so much further out on one side.
_WINDOW_MM, _FURTHER_MM = 3.0, 5.0
# What a shift by 1 mm costs, and what any two runs of rings reach by chance where they may be
# shifted (light is evened out to a spread of 1). Development lots 3000-3003.
_SHIFT, _CHANCE = 0.003, 0.5
# Less in common says nothing.
_LEAST_MM = 6.0


def sides_agree(faces: Sequence[FollowedRings], pith_mm: Floats, depth_mm: Floats) -> Floats:
    """Return how far the rings on both sides of the pith agree, in steps of a series.

    Parameters
    ----------
    faces
        The rings of each face.
    pith_mm
        (P,) places of the pith across the board, from the middle of its width.
    depth_mm
        (faces, P) its depths under each face.

    Returns
    -------
    ndarray
        (P,), about 0 where they agree by chance only.
    """
    found = np.zeros(len(pith_mm))
    for rings, depths in zip(faces, depth_mm, strict=True):
        for n, (pith, depth) in enumerate(zip(pith_mm, depths, strict=True)):
            low, high = (outward(rings, side, float(pith), float(depth)) for side in (-1, 1))
            for first, own in low:
                for other_first, others in high:
                    found[n] += _agreement(own, others, round((other_first - first) / STEP_MM))
    return found


def _agreement(own: Floats, others: Floats, later: int) -> float:
    """Return how far two runs agree where they overlap; the other one begins so much later."""
    start, stop = max(0, later), min(len(own), later + len(others))
    if (stop - start) * STEP_MM < _LEAST_MM:
        return 0.0
    one, other = own[start:stop], others[start - later : stop - later]
    most = round(_FURTHER_MM / STEP_MM)
    shifts = np.arange(-most, most + 1) * STEP_MM
    moved = np.lib.stride_tricks.sliding_window_view(np.pad(other, most), len(one))
    fits = gaussian_filter1d(moved * one, _WINDOW_MM / STEP_MM, axis=1, mode="constant")
    fits -= _SHIFT * shifts[:, None] ** 2
    return float(fits.max(axis=0).sum() - _CHANCE * len(one))
