"""Saw marks drawn on grain: straight or bowed, and where they are cut deeper."""

import numpy as np
import pytest
from shapely.geometry import box

from scanner.vision.low_lamp.raking_saw import find_saw_marks
from scanner.vision.photos.picture import FacePicture
from tests.vision.drawn_grain import grain

pytestmark = pytest.mark.slow

BOARD = box(-90, 50, 530, 190)


def face_of(light):
    pixels = np.clip(light, 0, 255).astype(np.uint8)
    seen = np.ones(pixels.shape, bool)
    return FacePicture(np.dstack([pixels] * 3), 0.5, (-100.0, 40.0), 0.0006, 0.5, seen)


def low_lamp(light, bow_mm, lean, deeper_mm):
    """Return the wood under a low lamp that shows marks of no even pitch, 3 to 8 mm apart."""
    y, x = np.mgrid[0:320, 0:1280] * 0.5
    off = y - 80
    x = x - lean * off - bow_mm * (off / 70) ** 2
    rng = np.random.default_rng(5)
    at = np.cumsum(rng.uniform(3, 8, 140)) - 40
    along = np.arange(-40.0, 700.0, 0.1)
    depth = np.exp(-(((along[:, None] - at) / 0.9) ** 2)).sum(axis=1)
    depth[(along > deeper_mm[0]) & (along < deeper_mm[1])] *= 4.0
    marks = np.interp(x, along, depth)
    return light * (1 - 0.05 * marks)


@pytest.mark.parametrize(("bow_mm", "is_bowed"), [(0.0, False), (5.0, True)])
def test_saw_marks_are_told_straight_or_bowed_and_where_they_are_deepest(bow_mm, is_bowed):
    light = grain(11)
    marked = low_lamp(light, bow_mm, 0.06, (300, 400))
    found = find_saw_marks(face_of(light), face_of(marked), BOARD)
    assert found is not None
    assert found.is_bowed is is_bowed
    assert found.bow_mm == pytest.approx(bow_mm, abs=1.0)
    assert found.lean == pytest.approx(0.06, abs=0.02)
    (place,) = found.strong_mm
    # Face mm: the outline begins 10 mm into the picture.
    assert place == pytest.approx((290, 390), abs=26)


def test_of_grain_alone_and_of_lines_that_both_lights_show_nothing_is_told():
    light = grain(12)
    rng = np.random.default_rng(6)
    noisy = 0.7 * light + rng.normal(0, 2, light.shape)
    assert find_saw_marks(face_of(light), face_of(noisy), BOARD) is None
    figured = low_lamp(light, 0.0, 0.0, (0, 0))
    assert find_saw_marks(face_of(figured), face_of(figured * 0.7), BOARD) is None


def test_of_a_narrow_face_nothing_is_told():
    light = grain(13)
    marked = low_lamp(light, 0.0, 0.0, (0, 0))
    narrow = box(-90, 100, 530, 140)
    assert find_saw_marks(face_of(light), face_of(marked), narrow) is None
