"""A dark line straight through a face may be where two boards meet, and is said to be."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely.geometry import box

from scanner.vision.outline.butted import doubts_of_seams, seams
from scanner.vision.photos.picture import FacePicture

pytestmark = pytest.mark.slow

MM = 0.5
ORIGIN_MM = (-10.0, -8.0)
FACE = box(20, 15, 820, 195)


def white_ash(seed: int = 0) -> np.ndarray:
    """Return a pale face with streaks along the grain that wander and end, gray values."""
    rng = np.random.default_rng(seed)
    noise = rng.standard_normal((420, 1680)).astype(np.float32)
    streaks = cv2.GaussianBlur(noise, (0, 0), 60, sigmaY=1.2)
    grain = cv2.GaussianBlur(noise[::-1], (0, 0), 1.0)
    return 170 + 5 * streaks / streaks.std() + 3 * grain / grain.std()


def face(gray: np.ndarray) -> FacePicture:
    pixels = np.clip(gray, 0, 255).astype(np.uint8)[..., None].repeat(3, axis=2)
    return FacePicture(pixels, MM, ORIGIN_MM, 0.0006, 0.5, np.ones(gray.shape, bool))


def px(x_mm: float, y_mm: float) -> tuple[int, int]:
    return round((x_mm - ORIGIN_MM[0]) / MM), round((y_mm - ORIGIN_MM[1]) / MM)


def with_line(first_mm, last_mm, gray=None, dark: float = 60.0) -> np.ndarray:
    """Return a face with a dark line of 1.5 mm between two places on it."""
    drawn = np.zeros((420, 1680), np.float32)
    cv2.line(drawn, px(*first_mm), px(*last_mm), 1.0, 3)
    return (white_ash() if gray is None else gray) - dark * drawn


def test_a_clear_face_has_no_seam():
    assert seams(face(white_ash()), FACE) == ()


def test_boards_side_by_side_are_told_where_they_meet():
    (seam,) = seams(face(with_line((20, 90), (820, 94))), FACE)
    assert seam.runs == "along"
    assert abs(seam.at_mm - 92) < 2.0


def test_boards_end_to_end_are_told_where_they_meet():
    (seam,) = seams(face(with_line((500, 15), (502, 195))), FACE)
    assert seam.runs == "across"
    assert abs(seam.at_mm - 501) < 2.0


@pytest.mark.parametrize("reach", [0.3, 0.7])
def test_a_crack_that_ends_on_the_face_is_no_seam(reach):
    assert seams(face(with_line((20, 90), (20 + 800 * reach, 92))), FACE) == ()


def test_rings_that_run_side_by_side_are_no_seam():
    gray = white_ash()
    for y in range(40, 180, 14):
        gray = with_line((20, y), (820, y), gray, dark=40.0)
    assert seams(face(gray), FACE) == ()


def test_the_border_of_a_shadow_is_no_seam():
    gray = white_ash()
    gray[px(0, 100)[1] :] *= 0.4
    assert seams(face(gray), FACE) == ()


def test_a_line_that_bends_with_the_grain_is_no_seam():
    gray = white_ash()
    x = np.linspace(20, 820, 200)
    y = 100 + 12 * np.sin(x / 120)
    drawn = np.zeros(gray.shape, np.float32)
    points = np.array([px(*point) for point in zip(x, y, strict=True)], np.int32)
    cv2.polylines(drawn, [points], isClosed=False, color=1.0, thickness=3)
    assert seams(face(gray - 60 * drawn), FACE) == ()


def test_what_no_photo_shows_tells_of_no_seam():
    shown = face(with_line((20, 90), (820, 94)))
    seen = shown.seen.copy()
    seen[:, : px(400, 0)[0]] = False
    assert seams(replace(shown, seen=seen), FACE) == ()


def test_a_doubt_says_where_two_boards_may_meet_and_what_to_do():
    (along,) = doubts_of_seams(face(with_line((20, 90), (820, 90))), FACE)
    assert any(f"{mm} mm from the face's upper edge" in along for mm in (73, 74, 75, 76, 77))
    assert "side by side" in along
    (across,) = doubts_of_seams(face(with_line((500, 15), (500, 195))), FACE)
    assert any(f"{mm} mm from the face's left end" in across for mm in range(478, 483))
    assert "take a photo of each alone" in across
