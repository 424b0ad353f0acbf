from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point

from scanner.board.flaw import FlawKind
from scanner.geometry.polygons import iou
from scanner.vision.flaws.worm_holes import find_worm_holes
from tests.vision.flaws.surfaces import Wood

LEAST = 0.3


def told(wood, seen=0.0, on_lawn=False):
    """The worm holes told where the network's share in the middle of the face is so much."""
    share = np.where(np.hypot(wood.x - 150, wood.y - 30) < 3, seen, 0.0).astype(np.float32)
    return find_worm_holes(replace(wood.surface(), is_on_lawn=on_lawn), share, LEAST)


@pytest.mark.parametrize("across_mm", [1.5, 2.0, 2.6])
def test_a_dark_round_speck_that_the_network_sees_faintly_is_told(across_mm):
    wood = Wood()
    wood.speck(150, 30, across_mm)
    (hole,) = told(wood, seen=0.3)
    assert hole.kind is FlawKind.HOLE
    assert iou(hole.outlines[1], Point(150, 30).buffer(across_mm / 2)) > 0.6


def test_a_worm_hole_in_a_dark_ring_line_is_told():
    wood = Wood()
    wood.pore_line(30, 0.3)
    wood.speck(150, 30, 2.0)
    assert len(told(wood, seen=0.3)) == 1


def test_a_speck_that_the_network_does_not_see_is_not_told():
    wood = Wood()
    wood.speck(150, 30, 2.0)
    assert told(wood) == []


def test_on_a_lawn_the_dark_speck_beneath_a_blades_tip_is_no_worm_hole():
    wood = Wood()
    wood.speck(150, 30, 2.0)
    assert len(told(wood, seen=0.6)) == 1
    assert told(wood, seen=0.6, on_lawn=True) == []


def test_the_plainer_a_hole_is_to_the_network_the_surer_it_is_told():
    wood = Wood()
    wood.speck(150, 30, 2.0)
    faint, plain = (told(wood, seen)[0].score for seen in (0.25, 0.6))
    assert plain > faint > LEAST


def test_the_corner_of_a_shadow_is_no_worm_hole():
    wood = Wood()
    wood.darken(0.6 * ((wood.x > 150) & (wood.y > 30)))
    assert told(wood, seen=0.6) == []


def test_one_of_many_alike_specks_is_less_likely_a_hole():
    one, many = Wood(), Wood()
    rng = np.random.default_rng(3)
    for x, y in zip(rng.uniform(10, 290, 80), rng.uniform(6, 54, 80), strict=True):
        many.speck(x, y, 1.4, share=0.35)
    many.speck(150, 30, 1.4, share=0.35)
    one.speck(150, 30, 1.4, share=0.35)
    assert told(one, seen=0.15)[0].score > 0.35
    assert told(many, seen=0.15) == []


def test_clear_wood_has_no_worm_holes():
    assert [told(Wood(seed=seed), seen=0.02) for seed in range(3)] == [[]] * 3
