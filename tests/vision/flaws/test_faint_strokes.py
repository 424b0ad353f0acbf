"""Strokes that are plain in part are followed where they are faint, and nothing else is."""

import numpy as np
import pytest

from scanner.vision.flaws.dabs import without_grain
from scanner.vision.flaws.faint_strokes import carried_on

SIZE = (150, 260)
BLUE, BLACK = (-20.0, 4.0, -25.0), (-55.0, -6.0, -14.0)
Y, X = np.indices(SIZE)


def diagonal(low, high, turn_deg=45.0, wide=6):
    """Return the pixels of a stroke through (130, 75), from ``low`` to ``high`` mm along it."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    along, aside = (X - 130) * c + (Y - 75) * s, (Y - 75) * c - (X - 130) * s
    return (along >= low) & (along <= high) & (np.abs(aside) <= wide / 2)


def followed(plain, faint, ink, *, is_black=False, faint_share=0.25):
    """Return what is taken of a stroke, plain here and faint there, on wood with a little noise."""
    off = np.random.default_rng(5).normal(0, 1.0, (*SIZE, 3)).astype(np.float32)
    off[faint] += np.float32(faint_share) * np.float32(ink)
    off[plain] += np.float32(ink)
    units = np.linalg.norm(off, axis=2).astype(np.float32)
    wood, beneath = np.ones(SIZE, bool), np.full(SIZE, 80.0, np.float32)
    return carried_on(off, units, beneath, np.eye(3), wood, plain, plain, is_black=is_black)


@pytest.mark.parametrize(("ink", "is_black"), [(BLUE, False), (BLACK, True)])
def test_a_stroke_is_followed_where_it_is_faint(ink, is_black):
    plain, faint = diagonal(-60, 0), diagonal(0, 55)
    taken = followed(plain, faint, ink, is_black=is_black)
    assert taken[plain].all()
    assert taken[faint].mean() > 0.6
    assert taken[~diagonal(-70, 65, wide=14)].mean() < 0.005


def test_the_faint_arm_of_an_x_is_found_from_the_other():
    taken = followed(diagonal(-60, 60), diagonal(-50, 50, turn_deg=135), BLUE)
    assert taken[diagonal(-50, 50, turn_deg=135)].mean() > 0.6


def test_what_runs_along_the_grain_is_not_followed():
    streak = diagonal(20, 100, turn_deg=0, wide=4)
    taken = followed(diagonal(-60, 10), streak, BLUE)
    assert taken[streak & ~diagonal(-70, 30, wide=24)].mean() < 0.1


def test_dark_figure_that_leaves_half_the_light_is_not_followed():
    figure = (-38.0, -3.0, -8.0)
    plain, faint = diagonal(-60, 0), diagonal(0, 55)
    assert not (followed(plain, faint, figure, is_black=True) & ~plain).any()


def test_a_stroke_loses_the_grain_that_it_was_taken_together_with():
    stroke = diagonal(-60, 60)
    left = without_grain(stroke | (np.abs(Y - 75) < 2))
    assert left[stroke].mean() > 0.85
    assert not left[:, :60].any()
