"""The straight foot of a board's side holds an arris that wanders, and only that."""

import numpy as np
import pytest

from scanner.vision.outline.by_foot import within_foot
from scanner.vision.outline.side import Side

ARRIS_MM, COLUMNS, SHARE = 90.0, 120, 0.012
S_MM = 4.0 * np.arange(COLUMNS)
REACHED = np.arange(5, COLUMNS - 5)
WANDERS = 4.0 + 4.0 * np.sin(S_MM / 30.0)


def told(arris_mm: np.ndarray, foot_of_mm: np.ndarray, *, is_hidden: bool = False) -> np.ndarray:
    """Return where each column's arris is told (mm), from odds of a face and of its side's foot."""
    t = np.arange(0.0, 151.0)
    reach = SHARE * (1000.0 - t)
    foot = foot_of_mm + SHARE * (1000.0 - foot_of_mm)
    body = np.where(t[:-1, None] < foot, 5.0, -5.0).astype(np.float32)
    face = np.where(t[:-1, None] < arris_mm, 5.0, -5.0).astype(np.float32)
    seen = (body > 0) | (not is_hidden)
    none = np.zeros_like(face)
    side = Side(face, body, seen.astype(np.float32), t, S_MM, reach, none, none)
    return t[within_foot(side, side.arris_odds(), REACHED).argmax(axis=0)][REACHED]


@pytest.fixture
def arris():
    """Return a true arris with a little bow."""
    return ARRIS_MM + 3.0 * (S_MM / S_MM[-1]) ** 2


def test_an_arris_that_wanders_over_a_lit_side_is_held_by_the_straight_foot(arris):
    out = told(arris + WANDERS, arris) - arris[REACHED]
    assert (WANDERS[REACHED] > 5.0).any()
    assert out.max() < 2.5
    # What lies further in stays: wane takes wood away there.
    assert out.min() > -1.0


def test_wane_inside_the_line_of_the_foot_stays(arris):
    assert np.abs(told(arris - WANDERS, arris) - (arris - WANDERS)[REACHED]).max() <= 1.0


def test_a_straight_arris_is_not_moved_by_a_foot_that_lies_too_far_in(arris):
    assert np.abs(told(arris, arris - 4.0) - arris[REACHED]).max() <= 1.0


def test_a_foot_lost_in_a_shadow_tells_nothing(arris):
    lost = arris - 2.0 * WANDERS
    assert told(arris + WANDERS, lost).max() > (arris + 6.0)[REACHED].max()


def test_the_straight_border_of_a_rule_is_no_foot(arris):
    out = told(arris + WANDERS, arris, is_hidden=True) - arris[REACHED]
    assert out.max() > 6.0


def test_beside_wane_the_foot_holds_the_arris_where_it_runs_straight(arris):
    inward = np.where(COLUMNS - np.arange(COLUMNS) > 75, 3.0 * WANDERS + 2.0, 0.0)
    foot = arris - inward
    out = told(foot + WANDERS, foot) - arris[REACHED]
    straight = inward[REACHED] == 0.0
    assert straight.mean() < 2 / 3
    # Near to the wane the foot on both sides is asked.
    assert out[straight][10:].max() < 2.5
    # Where wane runs through to the foot nothing is known but what is told.
    assert np.abs(out - (WANDERS - inward)[REACHED])[~straight].max() <= 2.5
