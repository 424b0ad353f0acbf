import itertools
import math

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon, box

from scanner.vision.looks.colour import paper_white, wood_colour
from scanner.vision.photos.light import lab_of, linear_light
from scanner.vision.photos.picture import FacePicture, WoodColour

WOOD = (0.46, 0.30, 0.17)  # shares of the paper's light
BOARD, PAPER = box(20, 60, 780, 200), box(0, 0, 800, 50)


def as_seen(linear):
    """Return the bytes of linear light 0..1 (H, W, 3) (sRGB) as phones make them.

    Some light strays, bright light is pressed together, large differences are evened out, and
    contrast is deepened: the last two by less than is undone.
    """
    linear = np.asarray(linear, np.float32) + 0.005
    linear = np.where(linear > 0.5, 1 - 0.5 * np.exp(-(linear - 0.5) / 0.5), linear)
    low = 12.92 * linear
    high = 1.055 * np.power(np.maximum(linear, 1e-6), 1 / 2.4) - 0.055
    shown = np.where(linear <= 0.0031308, low, high)
    around = cv2.blur(shown.mean(axis=2), (45, 45))
    shown = shown * ((0.54 / (around + 0.02)) ** 0.08)[..., None]
    shown = shown + 0.03 * np.sin(2 * np.pi * (shown - 0.5))
    return np.round(255 * np.clip(shown, 0, 1)).astype(np.uint8)


def scene(light=(0.8, 0.8, 0.8), shade=lambda x, y: 1.0, seed=0):
    """Return a face of even wood below a printed paper, under a light."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:220, 0:800].astype(float)
    share = np.full((220, 800, 3), 0.2)
    share[:50] = 1.0
    share[7:43, (x[0] % 50 > 7) & (x[0] % 50 < 43)] = 0.04
    share[60:200, 20:780] = np.array(WOOD) * (1 + 0.03 * rng.standard_normal((140, 760, 1)))
    linear = share * np.asarray(light) * np.asarray(shade(x, y))[..., None]
    return picture(as_seen(linear))


def picture(pixels):
    return FacePicture(pixels, 1.0, (0.0, 0.0), 0.001, 0.5, np.ones(pixels.shape[:2], bool))


def colour_of(face, apart=()):
    white = paper_white(face, PAPER)
    assert white is not None
    return wood_colour(face, BOARD, apart, white)


def test_lightness_is_that_of_the_standard():
    # ISO/CIE 11664-4: L* = 116 (Y/Yn)^(1/3) - 16, so 50 at Y/Yn = (66/116)^3; white is 100, 0, 0.
    grey = np.full((1, 3), (66 / 116) ** 3)
    assert lab_of(grey)[0] == pytest.approx([50, 0, 0], abs=0.05)
    assert lab_of(np.ones((1, 3)))[0] == pytest.approx([100, 0, 0], abs=0.05)


def test_red_lies_where_the_standard_puts_it():
    # IEC 61966-2-1 primaries under D65: sRGB red is L* 53.24, a* 80.09, b* 67.20 (from memory).
    assert lab_of(np.array([[1.0, 0, 0]]))[0] == pytest.approx([53.24, 80.09, 67.20], abs=0.1)


def test_the_middle_byte_is_a_fifth_of_the_light():
    assert linear_light(np.array([0, 128, 255], np.uint8)) == pytest.approx(
        [0, 0.2159, 1], abs=1e-3
    )


def apart(one, other):
    """Return delta E of 1976 (ISO/CIE 11664-4)."""
    return math.dist(one.lab, other.lab)


def test_the_wood_has_one_colour_under_any_light():
    found = [
        colour_of(scene(light)) for light in ((0.8, 0.8, 0.8), (0.9, 0.8, 0.6), (0.4, 0.45, 0.5))
    ]
    true = WoodColour(tuple(lab_of(np.array([WOOD]))[0]), 0.0)
    for one, other in itertools.combinations(found, 2):
        assert apart(one, other) < 2.0
    # The phone's own curve is another than the one that is undone: it is never known.
    assert all(apart(one, true) < 5.0 and one.spread < 1.0 for one in found)


def test_print_and_paper_are_read_off_the_lines_that_sharpening_draws():
    face = scene()
    soft = cv2.GaussianBlur(face.pixels, (0, 0), 1.2).astype(float)
    halo = cv2.GaussianBlur(soft, (0, 0), 1.5)
    sharp = picture(np.round(np.clip(soft + 1.2 * (soft - halo), 0, 255)).astype(np.uint8))
    assert np.abs(sharp.pixels[:50].astype(int) - face.pixels[:50]).max() > 15
    plain, drawn = paper_white(face, PAPER), paper_white(sharp, PAPER)
    assert drawn.ink == pytest.approx(plain.ink, rel=0.03)
    assert drawn.light == pytest.approx(plain.light, rel=0.01)


def test_a_blank_sheet_has_no_ink():
    face = scene()
    pixels = face.pixels.copy()
    pixels[:50] = pixels[2, 2]
    white = paper_white(picture(pixels), PAPER)
    assert white.ink is None
    assert apart(wood_colour(picture(pixels), BOARD, (), white), colour_of(face)) < 3.0


def test_no_colour_is_told_where_spots_of_sun_lie_on_wood_and_paper():
    def spots(x, y):
        return np.where((x // 90 + y // 70) % 2, 1.0, 0.3)

    assert colour_of(scene(shade=spots)) is None
    assert colour_of(scene(shade=lambda x, y: np.where(x < 400, 1.0, 0.4) + 0 * y)) is not None


def test_a_shadow_over_board_and_paper_changes_nothing():
    bare = colour_of(scene())
    shaded = colour_of(scene(shade=lambda x, y: np.where(x > 400, 0.45, 1.0)))
    assert apart(bare, shaded) < 1.0


def test_a_shadow_over_less_than_half_of_the_board_alone_changes_little():
    shade = colour_of(scene(shade=lambda x, y: np.where((x > 560) & (y > 55), 0.5, 1.0)))
    assert apart(colour_of(scene()), shade) < 1.0


def test_a_flaw_is_no_clear_wood():
    face = scene()
    pixels = face.pixels.copy()
    pixels[90:150, 100:420] = 30
    dark = box(100, 90, 420, 150)
    assert apart(colour_of(face), colour_of(picture(pixels), [dark])) < 0.3


def test_too_little_clear_wood_has_no_colour():
    assert colour_of(scene(), [BOARD.buffer(-5)]) is None


def test_burnt_out_paper_is_no_white():
    assert paper_white(scene((3.0, 3.0, 3.0)), PAPER) is None


def test_no_paper_in_the_picture_is_no_white():
    assert paper_white(scene(), Polygon()) is None
    assert paper_white(scene(), box(900, 0, 990, 50)) is None


def test_spread_says_how_much_the_wood_varies():
    face = scene()
    pixels = face.pixels.copy()
    pixels[:, 400:] = as_seen(linear_light(pixels[:, 400:]) * 0.8)
    pixels[:50] = face.pixels[:50]
    assert colour_of(picture(pixels)).spread > colour_of(face).spread + 2
