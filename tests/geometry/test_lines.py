import numpy as np
import pytest

from scanner.geometry.lines import crossing, fit_line, fit_line_robustly


def test_a_line_is_found_through_noisy_points_of_any_direction():
    random = np.random.default_rng(3)
    for turn in np.linspace(0, 2 * np.pi, 17):
        direction = np.array([np.cos(turn), np.sin(turn)])
        points = np.linspace(0, 100, 60)[:, None] * direction + random.normal(0, 0.3, (60, 2))
        line = fit_line(points)
        assert line.direction @ direction == pytest.approx(1.0, abs=1e-4)
        assert 0.1 < line.distances(points).std() < 0.5


def test_a_knot_beside_an_edge_does_not_turn_the_line():
    random = np.random.default_rng(4)
    x = np.linspace(0, 100, 80)
    y = 0.05 * x + random.normal(0, 0.2, 80)
    y[30:42] += 9.0
    line, weights = fit_line_robustly(np.column_stack([x, y]), 0.1)
    assert line.direction[1] / line.direction[0] == pytest.approx(0.05, abs=0.004)
    assert weights[30:42].max() == 0.0


def test_two_lines_meet_in_one_point_and_parallels_in_none():
    first = fit_line(np.array([[0.0, 0.0], [4.0, 4.0]]))
    second = fit_line(np.array([[0.0, 4.0], [4.0, 0.0]]))
    assert crossing(first, second) == pytest.approx((2.0, 2.0))
    assert crossing(first, fit_line(np.array([[0.0, 1.0], [4.0, 5.0]]))) is None


def test_one_point_makes_no_line():
    with pytest.raises(ValueError, match="two points"):
        fit_line(np.zeros((1, 2)))
