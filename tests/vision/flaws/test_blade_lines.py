from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely.geometry import LineString

from scanner.vision.flaws.blade_lines import is_blade
from scanner.vision.flaws.learned_lines import checks_of_scan
from scanner.vision.flaws.learned_maps import CHANNELS, ShareMaps
from tests.vision.flaws.surfaces import Wood

ASH, LEAF, CRACK = (230.0, 214.0, 182.0), (62.0, 96.0, 40.0), (70.0, 48.0, 30.0)
LINE = LineString([(60.0, 24.0), (110.0, 32.0)])


WALNUT, CHERRY, MAHOGANY = (96.0, 66.0, 48.0), (168.0, 112.0, 78.0), (130.0, 78.0, 54.0)
BLACK, SHADE = (8.0, 7.0, 6.0), (40.0, 40.0, 40.0)


def face_with_a_line(colour, share, line=LINE, species=ASH):
    """Return a face over which a line of a colour lies; wood shines through by 1 - share."""
    wood = Wood(length_mm=180.0)
    (x0, y0), (x1, y1) = line.coords
    away = np.abs(wood.y - y0 - (wood.x - x0) * (y1 - y0) / (x1 - x0))
    cover = share * np.exp(-((away / 0.8) ** 2)) * ((wood.x > x0) & (wood.x < x1))
    mixed = np.array(species) * (1 - cover[..., None]) + np.array(colour) * cover[..., None]
    grain = np.random.default_rng(3).normal(0.0, 2.0, wood.shape)[..., None]
    rgb = np.clip(mixed + grain, 0, 255).astype(np.float32) / np.float32(255)
    return replace(wood.surface(), lab=cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB))


def is_line_a_blade(colour, share):
    return is_blade(face_with_a_line(colour, share), LINE.buffer(1.0))


@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
def test_a_blade_of_grass_over_the_wood_is_one_however_thin(share):
    assert is_line_a_blade(LEAF, share)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
def test_a_crack_darkens_green_with_the_other_colours(share):
    assert not is_line_a_blade(CRACK, share)


@pytest.mark.parametrize("species", [WALNUT, CHERRY, MAHOGANY])
@pytest.mark.parametrize("colour", [BLACK, SHADE, CRACK])
@pytest.mark.parametrize("share", [0.4, 1.0])
def test_a_crack_in_red_or_dark_wood_is_no_blade_though_black_is_greener_than_the_wood(
    species, colour, share
):
    surface = face_with_a_line(colour, share, species=species)
    assert not is_blade(surface, LINE.buffer(1.0))


@pytest.mark.parametrize(("species", "share"), [(CHERRY, 0.3), (MAHOGANY, 0.5)])
def test_a_blade_over_red_wood_is_still_one(species, share):
    assert is_blade(face_with_a_line(LEAF, share, species=species), LINE.buffer(1.0))


def test_a_crack_in_the_light_of_a_lawn_is_no_blade():
    lit = face_with_a_line(CRACK, 0.6)
    rgb = cv2.cvtColor(lit.lab, cv2.COLOR_LAB2RGB) * np.float32([0.75, 0.9, 0.7])
    shaded = replace(lit, lab=cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB))
    assert not is_blade(shaded, LINE.buffer(1.0))


def test_an_outline_beside_the_face_is_left_to_others():
    beyond = LineString([(-40.0, 24.0), (-20.0, 24.0)]).buffer(1.0)
    assert not is_blade(face_with_a_line(LEAF, 0.9), beyond)


@pytest.mark.parametrize(
    ("colour", "first_mm", "told"), [(LEAF, 60, 0), (CRACK, 60, 1), (LEAF, 0, 1)]
)
def test_a_blade_is_no_check_but_lawn_may_show_in_a_split_that_is_open_at_an_end(
    colour, first_mm, told
):
    line = LineString([(first_mm, 30.0), (first_mm + 80.0, 30.0)])
    surface = face_with_a_line(colour, 0.9, line)
    values = np.zeros((len(CHANNELS), *surface.wood.shape), np.float32)
    values[CHANNELS.index("check"), 59:62, 2 * first_mm : 2 * first_mm + 160] = 0.99
    found = checks_of_scan(ShareMaps(values), surface.wood, (0.0, 0.0), 0.5, [], surface)
    assert len(found) == told
