import cv2
import numpy as np

from scanner.vision.flaws.learned_regions import Region
from scanner.vision.flaws.line_looks import LOOKS, gathered, line_looks
from scanner.vision.flaws.raked import shading
from tests.vision.flaws.surfaces import Wood


def line(row, first, last, shape):
    """Return a line's region, 3 px high, and shares that see it."""
    share = np.zeros(shape, np.float32)
    share[row - 1 : row + 2, first:last] = 0.9
    return Region(row - 1, first, np.ones((3, last - first), bool)), share


def looks_of(wood, row, first, last, at_end=""):
    region, share = line(row, first, last, wood.shape)
    measured = line_looks(wood.surface()).measure(region, share, at_end)
    return dict(zip(LOOKS, measured, strict=True))


def test_a_crack_stops_and_opens_towards_the_end_where_a_pore_line_runs_on():
    wood = Wood()
    wood.crack(20, 100, 0.8)
    wood.pore_line(40)
    crack = looks_of(wood, 40, 0, 180, "left")
    pores = looks_of(wood, 80, 0, 180, "left")
    assert crack["dark"] > 3
    assert crack["beyond"] < 0.5 * pores["beyond"]
    assert crack["wedge"] > pores["wedge"] + 1


def test_a_ring_lines_two_sides_differ():
    wood = Wood()
    wood.crack(20, 100, 0.8)
    wood.darken(0.3 * (wood.y > 40))
    assert looks_of(wood, 80, 0, 180)["shade"] > 0.2 > looks_of(wood, 40, 0, 180)["shade"]


def test_a_line_seen_faintly_along_all_its_length_gathers_and_a_speck_does_not():
    share = np.zeros((60, 300), np.float32)
    lean = 20 + 0.1 * np.arange(200)
    share[lean.round().astype(int), 50 + np.arange(200)] = 0.4
    share[50, 100:105] = 0.4
    found = gathered(share)
    assert found[30, 150] > 0.35
    assert found[50, 102] < 0.1


def test_between_two_lights_a_cracks_lips_show_and_a_dark_line_does_not():
    wood, low = Wood(), Wood(seed=1)
    for one in (wood, low):
        one.crack(20, 100, 0.8)
        one.pore_line(40, 0.5)
    lip = np.exp(-(((low.y - 19) / 0.6) ** 2)) - np.exp(-(((low.y - 21) / 0.6) ** 2))
    low.light = low.light * (1 + 0.3 * lip * (low.x < 90))
    shade = shading(wood.surface(), low.surface())
    crack, pores = (shade.lips(*line(row, 0, 180, wood.shape)) for row in (40, 80))
    assert crack > 4 > pores


def test_even_light_after_the_lamp_moved_says_nothing():
    wood = Wood()
    wood.crack(20, 100, 0.8)
    surface = wood.surface()
    assert cv2.norm(shading(surface, surface).across) == 0
