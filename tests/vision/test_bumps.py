"""Bumps of a straight arris that an unsure map lets swell out, and those that it is sure of."""

import numpy as np
import pytest

from scanner.vision.outline.bumps import within_line, without_bumps
from scanner.vision.outline.several import ArrisOdds

COLUMNS, BUMP_MM = 150, 5.0
S_MM = 4.0 * np.arange(COLUMNS)
REACHED = np.arange(5, COLUMNS - 5)
ARRIS_MM = 90.0 + 3.0 * (S_MM / S_MM[-1]) ** 2


def side(sure: float) -> ArrisOdds:
    """Return a side whose map says face all the way out, by so much a mm past the arris."""
    t = np.arange(0.0, 121.0)
    past = t[:-1, None] > ARRIS_MM
    face = np.where(past, sure, 5.0).astype(np.float32)
    odds = np.vstack([np.zeros((1, COLUMNS), np.float32), np.cumsum(face, axis=0)])
    return ArrisOdds(odds, t, S_MM, 0, np.zeros_like(t))


def swollen(first: int, stop: int, by_mm: float = BUMP_MM) -> np.ndarray:
    """Return the arris as traced, out by so much at columns first ... stop - 1."""
    traced = ARRIS_MM.copy()
    traced[first:stop] += by_mm
    return traced


@pytest.mark.parametrize(
    ("sure", "first", "stop", "by_mm", "left_mm"),
    [
        (1.0, 100, 140, BUMP_MM, 0.0),  # floor of the wood's look beside one end
        (4.5, 100, 140, BUMP_MM, BUMP_MM),  # the board's own shape, as the map surely tells
        (1.0, 100, 104, BUMP_MM, BUMP_MM),  # too short for more than a speck
        (1.0, 100, 140, -BUMP_MM, -BUMP_MM),  # wane, or something that lies over the edge
        (1.0, 20, 90, BUMP_MM, BUMP_MM),  # which of the two is the saw's line?
    ],
)
def test_only_bumps_that_the_map_is_not_sure_of_are_taken_off(sure, first, stop, by_mm, left_mm):
    flat = without_bumps(side(sure), swollen(first, stop, by_mm), REACHED)
    assert flat[first:stop] - ARRIS_MM[first:stop] == pytest.approx(left_mm, abs=0.4)
    assert np.delete(flat - ARRIS_MM, np.r_[first:stop]) == pytest.approx(0.0, abs=1e-9)


def test_beside_wane_a_bump_past_the_saws_line_is_taken_off_too():
    traced = swollen(100, 140)
    traced[10:90] -= 9.0  # wane over half of the edge
    assert without_bumps(side(1.0), traced, REACHED) == pytest.approx(traced)
    flat = within_line(side(1.0), traced, ARRIS_MM, REACHED)
    assert flat[100:140] == pytest.approx(ARRIS_MM[100:140])
    assert np.delete(flat, np.r_[100:140]) == pytest.approx(np.delete(traced, np.r_[100:140]))
