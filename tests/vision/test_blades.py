"""Grass over a board's rim is neither wane nor a flaw; elsewhere nothing is touched."""

import cv2
import numpy as np
import pytest
from shapely.geometry import box

from scanner.vision.blades import grass_over, without_blades
from scanner.vision.photos.picture import FacePicture

MM_PER_PX = 0.5
LAWN, MAPLE, WALNUT = (70, 105, 45), (222, 200, 165), (95, 70, 50)


def face_on(floor, wood, blades=0, seed=0):
    """Return a flat picture of a board 1000 x 160 mm with 60 mm of floor all round, and its wood.

    The wood has a dark check at its left end, 30 mm long, and a knot.
    """
    random = np.random.default_rng(seed)
    rows, columns = 560, 2240
    pixels = np.empty((rows, columns, 3), np.float32)
    pixels[:] = floor
    pixels *= random.normal(1.0, 0.12, (rows, columns, 1)).astype(np.float32)
    bare = np.empty((320, 2000, 3), np.float32)
    bare[:] = wood
    bare *= random.normal(1.0, 0.02, (320, 2000, 1)).astype(np.float32)
    cv2.line(bare, (0, 150), (60, 152), (40, 30, 25), 3)
    cv2.circle(bare, (900, 40), 16, (90, 60, 40), -1)
    pixels[120:440, 120:2120] = bare
    for _ in range(blades):
        x = int(random.integers(130, 2100))
        y, way = (118, 1) if random.random() < 0.5 else (442, -1)
        tip = (x + int(random.integers(-25, 26)), y + way * int(random.integers(12, 50)))
        cv2.line(pixels, (x, y), tip, (75, 115, 40), 3)
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.8)
    seen = np.ones((rows, columns), bool)
    picture = FacePicture(
        np.clip(pixels, 0, 255).astype(np.uint8), MM_PER_PX, (0.0, 0.0), 0.001, 1.0, seen
    )
    return picture, bare


def off_from_wood(picture, bare):
    inside = picture.pixels[124:436, 124:2116].astype(np.float32)
    return np.abs(inside - bare[4:-4, 4:-4]).max(axis=2) > 40


@pytest.mark.slow
def test_most_of_the_blades_are_painted_over_with_wood():
    for wood in (MAPLE, WALNUT):
        picture, bare = face_on(LAWN, wood, blades=60)
        before, after = off_from_wood(picture, bare), off_from_wood(without_blades(picture), bare)
        assert before.sum() > 2000
        assert after.sum() < 0.15 * before.sum()


@pytest.mark.slow
def test_a_check_and_a_knot_stay_as_they_are():
    picture, _ = face_on(LAWN, MAPLE, blades=60, seed=3)
    healed = without_blades(picture)
    check = np.s_[266:276, 122:180]
    knot = np.s_[144:176, 1004:1036]
    for place in (check, knot):
        assert np.abs(healed.pixels[place].astype(int) - picture.pixels[place]).mean() < 4


@pytest.mark.slow
def test_a_board_on_concrete_or_of_green_wood_there_is_not_touched():
    for floor, wood in (((150, 146, 138), MAPLE), ((150, 146, 138), (150, 165, 110))):
        picture, _ = face_on(floor, wood)
        assert without_blades(picture) is picture


@pytest.mark.slow
def test_what_grass_covers_is_told():
    picture, _ = face_on(LAWN, MAPLE, blades=60)
    healed = without_blades(picture)
    assert grass_over(healed, box(2, 2, 50, 50)) > 0.9  # lawn
    assert grass_over(healed, box(300, 120, 500, 160)) < 0.05  # the board's middle
    assert grass_over(picture, box(2, 2, 50, 50)) == 0.0
