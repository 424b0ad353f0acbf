"""What an ink is called by how it differs from the wood beneath."""

import cv2
import numpy as np
import pytest

from scanner.vision.flaws.chalk_colour import colour_name

# Shares of red, green and blue light that are thrown back; chosen, not measured.
PALE, WALNUT = (0.55, 0.40, 0.25), (0.20, 0.12, 0.07)
BLUE_CRAYON, BLUE_CHALK, BLACK = (0.05, 0.10, 0.35), (0.25, 0.35, 0.60), (0.02, 0.02, 0.02)


def lab(light) -> np.ndarray:
    """Return CIELAB of linear light (3,)."""
    linear = np.asarray(light, np.float32)
    rgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return cv2.cvtColor(rgb.reshape(1, 1, 3).astype(np.float32), cv2.COLOR_RGB2LAB)[0, 0]


def name_of(wood, shown) -> str:
    return colour_name(lab(shown) - lab(wood))


def covered(wood, ink, cover) -> np.ndarray:
    return (1 - cover) * np.asarray(wood) + cover * np.asarray(ink)


@pytest.mark.parametrize(("wood", "ink"), [(PALE, BLUE_CRAYON), (WALNUT, BLUE_CHALK)])
@pytest.mark.parametrize("cover", [0.35, 0.6, 0.9])
def test_blue_ink_is_blue_however_much_wood_shows_through(wood, ink, cover):
    assert name_of(wood, covered(wood, ink, cover)) == "blue"


@pytest.mark.parametrize("wood", [PALE, WALNUT])
@pytest.mark.parametrize("share", [0.3, 0.5])
def test_wood_that_only_throws_back_less_light_is_dark_and_not_blue(wood, share):
    assert name_of(wood, share * np.asarray(wood)) == "dark"


def test_black_on_pale_wood_is_not_blue():
    assert name_of(PALE, covered(PALE, BLACK, 0.9)) == "dark"
