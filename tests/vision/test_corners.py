"""Near its corners an arris goes where its own line puts it, unless wane or the map says not."""

import numpy as np
import pytest

from scanner.vision.outline.corners import to_the_corners
from scanner.vision.outline.several import ArrisOdds

COLUMNS = 200
S_MM = 4.0 * np.arange(COLUMNS)
ENDS_MM = (40.0, 760.0)
ARRIS_MM = 90.0 + 0.01 * S_MM
FIRST = np.flatnonzero((S_MM >= 40.0) & (S_MM < 60.0))


def told(sure: float, traced: np.ndarray) -> ArrisOdds:
    """Return a side whose odds fall by so much a mm away from the traced arris."""
    t = np.arange(0.0, 121.0)
    odds = -sure * np.abs(t[:, None] - traced[None])
    return ArrisOdds(odds.astype(np.float32), t, S_MM, 0, np.zeros_like(t))


@pytest.mark.parametrize(
    ("sure", "by_mm", "left_mm"),
    [
        (1.0, 6.0, 0.0),  # the pale floor past the corner
        (1.0, -6.0, 0.0),  # paint that laps over it
        (4.5, -6.0, -6.0),  # a corner that is broken off, as the map surely tells
        (1.0, 0.8, 0.8),  # no more than any arris strays
    ],
)
def test_an_arris_that_leaves_its_line_at_the_corner_alone_is_drawn_on(sure, by_mm, left_mm):
    traced = ARRIS_MM.copy()
    traced[FIRST] += by_mm
    drawn = to_the_corners(told(sure, traced), traced, ENDS_MM)
    assert drawn[FIRST] - ARRIS_MM[FIRST] == pytest.approx(left_mm, abs=0.05)
    inner = S_MM > 60.0
    assert drawn[inner] == pytest.approx(traced[inner])


def test_an_arris_that_wane_bends_is_left_as_it_was_traced():
    traced = ARRIS_MM - 12.0 * np.clip((200.0 - S_MM) / 160.0, 0.0, 1.0) ** 2
    assert to_the_corners(told(1.0, traced), traced, ENDS_MM) == pytest.approx(traced)


def test_the_other_end_is_drawn_on_by_its_own_line():
    traced = ARRIS_MM.copy()
    last = np.flatnonzero((S_MM > 740.0) & (S_MM <= 760.0))
    traced[last] -= 4.0
    drawn = to_the_corners(told(1.0, traced), traced, ENDS_MM)
    assert drawn[last] == pytest.approx(ARRIS_MM[last], abs=0.05)
