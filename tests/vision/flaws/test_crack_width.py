import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from scanner.vision.flaws.crack_width import narrowed


def mean_width_mm(shape):
    x0, _, x1, _ = shape.bounds
    return shape.area / (x1 - x0)


def test_a_fine_check_is_drawn_finer_than_the_region_that_the_network_sees():
    drawn = narrowed(box(10.0, 40.0, 110.0, 43.0))
    assert drawn.bounds[0::2] == pytest.approx((10.0, 110.0), abs=0.1)
    assert mean_width_mm(drawn) == pytest.approx(1.8, abs=0.1)
    assert drawn.centroid.y == pytest.approx(41.5, abs=0.05)


def test_a_split_that_gapes_stays_as_wide_as_it_gapes():
    wedge = Polygon([(0, -4.0), (120, -0.9), (120, 0.9), (0, 4.0)])
    drawn = narrowed(wedge)
    at_the_end = drawn.intersection(box(2.0, -9.0, 4.0, 9.0))
    assert mean_width_mm(at_the_end) == pytest.approx(6.6, abs=0.4)


def test_a_check_that_follows_the_grain_round_a_bend_keeps_to_it():
    x = np.linspace(0.0, 150.0, 200)
    course = LineString(np.column_stack([x, 6.0 * np.sin(x / 25.0)]))
    drawn = narrowed(course.buffer(1.6, cap_style="flat"))
    inner = [course.interpolate(at) for at in np.linspace(4.0, course.length - 4.0, 40)]
    assert all(drawn.contains(point) for point in inner)
    assert mean_width_mm(drawn) < 2.4


def test_a_check_no_wider_than_its_course_is_known_stays_as_it_is():
    fine = box(0.0, 0.0, 60.0, 1.2)
    assert narrowed(fine).symmetric_difference(fine).area < 0.2


def test_a_region_that_runs_back_on_itself_loses_no_piece():
    # A fork: halfway between both arms lies no wood of the crack.
    fork = LineString([(100, 8), (0, 0), (100, -8)]).buffer(0.7)
    drawn = narrowed(fork)
    assert drawn.contains(Point(95, 7.6))
    assert drawn.contains(Point(95, -7.6))


def test_an_arm_that_hangs_on_by_a_neck_is_not_lost():
    check, arm = box(0.0, 0.0, 200.0, 3.0), box(60.0, 4.0, 100.0, 7.0)
    neck = box(60.0, 2.5, 61.0, 4.5)
    drawn = narrowed(check.union(arm).union(neck))
    assert drawn.contains(Point(90.0, 5.5))


def test_a_speck_is_too_short_to_have_a_course():
    speck = box(0.0, 0.0, 3.0, 3.0)
    assert narrowed(speck).equals(speck)
