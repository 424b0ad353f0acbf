import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.vision.outline.trace import TracedOutline, u_of_spread_mm


@pytest.mark.parametrize(
    ("unsure", "u_mm", "told"),
    # All alike: that U. One in 20 quite unsure: hardly more. Half and half: where half of the
    # unsure points (a normal's 90 % = 1.645 sd) and nearly all of the sure ones lie inside.
    [(0.0, 1.0, 1.0), (0.05, 4.0, 1.2), (0.5, 10.0, 10.0 * 1.645 / 1.96)],
)
def test_an_outline_is_as_sure_as_19_of_20_of_its_points(unsure, u_mm, told):
    x = np.arange(-50.0, 1050.0)
    off = np.where((x >= 0) & (x < 1000 * unsure), u_mm, 1.0)
    off[(x < 0) | (x > 1000)] = 99.0  # past the ends nothing counts
    side, end = np.column_stack([x, 0 * x]), np.zeros((2, 2))
    right = np.add(end, (1000.0, 0.0))
    traced = TracedOutline(Polygon(), (), side, side, end, right, off, off)
    assert traced.u_mm == pytest.approx(told, rel=0.06)


def test_the_blur_of_a_sharp_arris_is_no_doubt_and_doubt_counts_for_more_than_it_says():
    sharp, unsure, lost = u_of_spread_mm(np.array([0.55, 0.9, 5.0]))
    assert sharp < 0.7
    assert 1.96 * 0.9 < unsure < 2.5
    assert lost > 1.96 * 5.0
