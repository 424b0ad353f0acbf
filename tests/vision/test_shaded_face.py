"""A hard shadow along a board darkens its face as its side is dark, and is no arris."""

import numpy as np
import pytest

from scanner.vision.outline.shaded_face import with_shaded_face
from scanner.vision.outline.side import Side

ARRIS_MM, COLUMNS = 90.0, 160
S_MM = 4.0 * np.arange(COLUMNS)
REACHED = np.arange(5, COLUMNS - 5)
# From nothing to 30 mm wide, as a shadow's border runs slantwise over an arris.
SHADED_MM = np.linspace(0.0, 30.0, COLUMNS)
IN_SHADOW = REACHED[SHADED_MM[REACHED] > 4.0]


def side(
    face_mm: np.ndarray, foot_of_mm: np.ndarray, *, reach_mm: float = 8.0, wane: float = 0.0
) -> Side:
    """Lay out a side whose face is told to one line, and its foot to where another's would show.

    ``wane`` is the share of what lies between face and arris that is told as wane.
    """
    t = np.arange(0.0, 151.0)
    outer = t[1:, None]
    body = outer <= foot_of_mm + reach_mm
    face = outer <= face_mm
    between = body & ~face
    past_it = between & (outer <= foot_of_mm)
    odds, of_board = (np.where(one, 5.0, -5.0).astype(np.float32) for one in (face, body))
    flank = between - wane * past_it
    return Side(
        odds,
        of_board,
        np.ones_like(odds),
        t,
        S_MM,
        np.full_like(t, reach_mm),
        flank.astype(np.float32),
        (wane * past_it).astype(np.float32),
    )


def arris_mm(told: Side) -> np.ndarray:
    """Return where each column's arris is told."""
    return told.t_mm[told.arris_odds().argmax(axis=0)]


@pytest.fixture
def arris():
    """Return a true arris with a little bow."""
    return ARRIS_MM + 3.0 * (S_MM / S_MM[-1]) ** 2


@pytest.mark.parametrize("reach_mm", [0.0, 8.0])
def test_the_border_of_a_shadow_on_the_face_is_no_arris(arris, reach_mm):
    told = side(arris - SHADED_MM, arris, reach_mm=reach_mm)
    assert np.abs(arris_mm(told) - arris)[IN_SHADOW].max() > 20.0
    shaded = with_shaded_face(told, REACHED)
    assert np.abs(arris_mm(shaded) - arris)[IN_SHADOW].max() <= 1.5


def test_a_side_as_wide_as_a_square_one_shows_is_no_face(arris):
    told = side(arris, arris)
    assert (with_shaded_face(told, REACHED).odds == told.odds).all()


def test_wane_in_a_shadow_stays_outside_the_face(arris):
    told = side(arris - SHADED_MM, arris, wane=0.6)
    assert (with_shaded_face(told, REACHED).odds == told.odds).all()


def test_a_foot_that_wanders_tells_of_no_shadow_on_the_face(arris):
    foot = arris + 12.0 * np.sin(S_MM / 30.0)
    told = side(arris - SHADED_MM, foot)
    assert (with_shaded_face(told, REACHED).odds == told.odds).all()


def test_beside_wane_a_face_in_a_shadow_goes_on_where_the_foot_runs_straight(arris):
    waned = np.arange(COLUMNS) < 62
    foot = arris - np.where(waned, 9.0 + 6.0 * np.sin(S_MM / 30.0), 0.0)
    told = side(np.minimum(arris - 12.0, foot), foot)
    off = (arris_mm(with_shaded_face(told, REACHED)) - arris)[REACHED]
    assert np.abs(off[~waned[REACHED]][10:]).max() <= 1.5
    # Where wane runs through to the foot nothing is known but what is told.
    assert off[waned[REACHED]][:-10].max() <= -10.0


def test_no_face_is_told_past_a_foot_that_wane_runs_through_to(arris):
    waned = np.arange(COLUMNS) < 30
    foot = arris - np.where(waned, 12.0, 0.0)
    told = side(foot - 5.0, foot)
    there = REACHED[waned[REACHED]][:-10]
    assert (arris_mm(with_shaded_face(told, REACHED)) - foot)[there].max() <= 1.0
