from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely.geometry import box

from scanner.errors import PhotoError
from scanner.vision.low_lamp.raking import lay_over
from scanner.vision.photos.picture import FacePicture
from tests.vision.drawn_grain import grain

pytestmark = pytest.mark.slow

BOARD = box(20, 20, 620, 140)


def face_of(light):
    pixels = np.clip(light, 0, 255).astype(np.uint8)
    seen = np.ones(pixels.shape, bool)
    return FacePicture(np.dstack([pixels] * 3), 0.5, (0.0, 0.0), 0.0006, 0.5, seen)


def moved(light, saw_marks):
    """Return the wood as another photo shows it: 1.2 mm down, 1.5 mm bowed, other light."""
    rows, columns = light.shape
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    bow = 3.0 * (2 * x / columns - 1) ** 2
    there = cv2.remap(light, x - 2.0, y - 2.4 - bow, cv2.INTER_LINEAR, None, cv2.BORDER_REPLICATE)
    return 0.7 * there * (1 + saw_marks * np.sin(2 * np.pi * x / 11) + 0.2 * x / columns)


def test_a_photo_under_another_light_is_laid_over_within_half_a_millimetre():
    light = grain(1)
    laid = lay_over(face_of(light), BOARD, face_of(moved(light, 0.15)), BOARD, "low.jpg")
    places = np.array([[60.0, 60], [320, 80], [580, 110]])
    bow = 1.5 * (2 * places[:, 0] / 640 - 1) ** 2
    true = places + np.column_stack([np.full(3, 1.0), 1.2 + bow])
    assert np.abs(laid.places_in_second(places) - true)[:, 1].max() < 0.5
    assert np.hypot(*(laid.places_in_second(places) - true).T).max() < 1.0
    assert laid.apart_mm < 0.5


def test_a_photo_taken_from_the_other_side_is_turned():
    light = grain(2)
    second = replace(face_of(light), pixels=np.ascontiguousarray(face_of(light).pixels[::-1, ::-1]))
    laid = lay_over(face_of(light), BOARD, second, BOARD, "low.jpg")
    there = laid.places_in_second(np.array([[100.0, 50.0]]))[0]
    assert there == pytest.approx([639.5 - 100, 159.5 - 50], abs=0.5)


def test_another_face_is_refused():
    with pytest.raises(PhotoError, match="could not be laid over"):
        lay_over(face_of(grain(3)), BOARD, face_of(grain(4)), BOARD, "low.jpg")


def test_the_boards_side_seen_below_an_arris_in_one_photo_pulls_nothing():
    light = 110 + 0.25 * grain(5)  # sapwood: faint grain
    side, floor = light.copy(), light.copy()
    # The arris is at 140 mm; one photo shows 4 mm of the board's side below it.
    side[280:288], side[288:], floor[280:] = 110, 40, 40
    laid = lay_over(face_of(side), BOARD, face_of(floor), BOARD, "low.jpg")
    places = np.array([[60.0, 130], [320, 130], [580, 130]])
    assert np.abs(laid.places_in_second(places) - places)[:, 1].max() < 0.2
