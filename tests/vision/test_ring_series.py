"""The rings of a face in their order, read off made crosscuts."""

import numpy as np
import pytest

from scanner.board.ring_series import STEP_MM
from scanner.vision.looks.followed_rings import follow
from scanner.vision.looks.ring_fit import RingFit
from scanner.vision.looks.ring_series import series_of
from scanner.vision.looks.ring_sides import sides_agree

THICK = 27.0
FIT = RingFit(3.0, 40.0, -10.0, 2, 1.0, 0.5, True)
Y = np.arange(-90, 90, 0.5)
# Irregular, as years are.
RADII = 30 + np.cumsum(3.0 * np.exp(np.random.default_rng(5).normal(0, 0.3, 60)))


def crosscuts(face, drift_mm=0.0, columns=24):
    """Return dark lines where the rings of `RADII` cross the face, wandering along the board."""
    depth = FIT.depth_mm + (0.0 if face == FIT.heart_face else THICK)
    radius = np.hypot(Y - FIT.pith_mm, depth)[:, None] + drift_mm * np.linspace(-1, 1, columns)
    off = np.abs(radius[..., None] - RADII).min(axis=-1)
    return -0.2 * np.exp(-((off / 0.6) ** 2)) + 0.03, np.ones(radius.shape, bool)


def dark_places(series):
    light = np.array(series.light)
    at = np.flatnonzero(
        (light[1:-1] < -0.8) & (light[1:-1] <= light[:-2]) & (light[1:-1] < light[2:])
    )
    return series.from_pith_mm + (at + 1) * STEP_MM


@pytest.mark.parametrize("face", [1, 2])
@pytest.mark.parametrize("drift_mm", [0.0, 2.5])
def test_rings_lie_where_they_lie_in_the_log(face, drift_mm):
    found = series_of(follow(crosscuts(face, drift_mm), Y), FIT, face, THICK)
    assert len(found) == 2 and {series.face for series in found} == {face}
    for series in found:
        places = dark_places(series)
        inside = RADII[(places[0] - 1 < RADII) & (places[-1] + 1 > RADII)]
        assert len(places) >= 0.8 * len(inside) >= 8
        off = np.abs(places[:, None] - RADII).min(axis=1)
        assert np.median(off) < 0.4 and off.max() < 1.5


def test_a_series_ends_where_a_knot_hides_the_rings():
    light, clear = crosscuts(2)
    clear[(Y > 40) & (Y < 55)] = False
    found = series_of(follow((light, clear), Y), FIT, 2, THICK)
    beyond = [s for s in found if s.from_pith_mm > np.hypot(55 + 10, 40) - 1]
    assert len(found) == 3 and len(beyond) == 1


def test_a_face_without_clear_wood_has_no_series():
    light, clear = crosscuts(1)
    assert series_of(follow((light, np.zeros_like(clear)), Y), FIT, 1, THICK) == ()


def test_rings_that_wander_lie_where_they_lie_on_the_mean():
    light, clear = crosscuts(2, columns=25)
    # The middle crosscut alone is off by 4 mm, as a wave of the grain does it.
    wave = 4.0 * np.cos(np.linspace(-np.pi, np.pi, light.shape[1]))
    moved = np.column_stack(
        [np.interp(Y - by, Y, column) for by, column in zip(wave, light.T, strict=True)]
    )
    rings = follow((moved, clear), Y)
    inner = (Y > -70) & (Y < 70) & (np.abs(Y - FIT.pith_mm) > 15)
    assert np.median(np.abs(rings.y_mm - Y + 4.0)[inner]) < 0.8


def test_both_sides_of_the_pith_tell_its_place():
    rings = [follow(crosscuts(face), Y) for face in (1, 2)]
    places = np.arange(-40, 41, 2.5)
    deep = FIT.depth_mm + np.array([THICK, 0.0])[:, None] + np.zeros(len(places))
    agree = sides_agree(rings, places, deep)
    assert abs(places[agree.argmax()] - FIT.pith_mm) < 2.6
    assert agree.max() > 3 * np.median(np.abs(agree))


def test_one_side_alone_tells_no_place():
    light, clear = crosscuts(2)
    clear[FIT.pith_mm > Y] = False
    rings = [follow((light, clear), Y)]
    assert not sides_agree(rings, np.array([-60.0, FIT.pith_mm]), np.full((1, 2), 40.0)).any()
