"""The course of the grain over a whole face, from a picture whose course is known."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import box

from scanner.vision.course import course_deg

FACE = box(0, 0, 400, 120)


def streaked(degrees: float, seed: int = 3) -> np.ndarray:
    """Return a face with streaks at this angle (x towards y), rings of uneven breadth, 1 mm/px."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:120, 0:400].astype(float)
    across = y * np.cos(np.radians(degrees)) - x * np.sin(np.radians(degrees))
    rings = np.interp(across, np.arange(-200, 320), rng.normal(0, 12, 520))
    light = 170 + rings + rng.normal(0, 3, rings.shape)
    return np.repeat(np.clip(light, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.mark.parametrize("degrees", [-9.0, -2.0, 0.0, 4.0, 12.0])
def test_the_course_is_found_within_half_a_degree(degrees):
    found = course_deg(streaked(degrees), 1.0, (0.5, 0.5), FACE)
    assert found == pytest.approx(degrees, abs=0.5)


def test_a_flaw_does_not_turn_the_course():
    picture = streaked(3.0)
    picture[20:100, 100:200] = streaked(-25.0)[20:100, 100:200]
    patch = box(100, 20, 200, 100)
    assert course_deg(picture, 1.0, (0.5, 0.5), FACE, (patch,)) == pytest.approx(3.0, abs=0.5)


def test_a_face_without_grain_has_no_course():
    plain = np.full((120, 400, 3), 170, np.uint8)
    assert course_deg(plain, 1.0, (0.5, 0.5), FACE) is None
    assert course_deg(streaked(3.0), 1.0, (0.5, 0.5), box(0, 0, 5, 5)) is None
