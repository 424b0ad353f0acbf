"""Strokes that are left in dabs: what belongs together, and what is a loop."""

import numpy as np

from scanner.vision.flaws.dabs import groups_of, is_ring


def dabs_round(share: float) -> np.ndarray:
    """Return points (N, 2) of dabs round an ellipse of 60 x 40 mm, over a share of the round."""
    turns = np.linspace(0, 2 * np.pi * share, 200)
    turns = turns[np.sin(12 * turns) > -0.3]
    rng = np.random.default_rng(3)
    return np.column_stack([30 * np.cos(turns), 20 * np.sin(turns)]) + rng.normal(
        0, 1, (len(turns), 2)
    )


def test_dabs_all_round_are_a_loop_and_half_a_round_is_none():
    assert is_ring(dabs_round(1.0), 3.0)
    assert not is_ring(dabs_round(0.5), 3.0)


def test_a_filled_patch_is_no_loop():
    patch = np.random.default_rng(4).uniform(-1, 1, (600, 2)) * [30, 20]
    assert not is_ring(patch, 3.0)


def test_dabs_near_each_other_are_one_stroke_and_far_ones_are_not():
    pieces = np.zeros((120, 200), dtype=bool)
    for column in range(20, 90, 10):
        pieces[40:44, column : column + 5] = True
    pieces[90:94, 150:154] = True
    found = groups_of(pieces)
    assert len(found) == 1
    (corner, region) = found[0]
    assert corner == (20, 40)
    assert region.shape == (4, 65)
