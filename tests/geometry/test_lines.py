import numpy as np
import pytest

from scanner.geometry.lines import Line, fit_line, fit_line_robustly


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


def test_one_point_makes_no_line():
    with pytest.raises(ValueError, match="two points"):
        fit_line(np.zeros((1, 2)))


def test_distances_and_places_are_signed_by_the_line_s_own_sense():
    line = Line(np.array([10.0, 0.0]), np.array([1.0, 0.0]))
    points = np.array([[13.0, 4.0], [8.0, -2.0]])
    assert line.normal == pytest.approx((0.0, 1.0))
    assert line.distances(points) == pytest.approx((4.0, -2.0))
    assert line.along(points) == pytest.approx((3.0, -2.0))
    up = Line(np.array([2.0, 5.0]), np.array([0.0, 1.0]))
    assert up.normal == pytest.approx((-1.0, 0.0))
    assert up.distances(points) == pytest.approx((-11.0, -6.0))
    assert up.along(points) == pytest.approx((-1.0, -7.0))


def test_the_sense_of_a_line_follows_the_order_of_its_points():
    points = np.array([[0.0, 0.0], [1.0, 0.1], [2.0, -0.1], [3.0, 0.0]])
    assert fit_line(points).direction[0] > 0.9
    assert fit_line(points[::-1]).direction[0] < -0.9
    # Only the first and the last point decide, however the others stray.
    for x in ([0, -5, -1, 2], [0, 5, 1, -2], [0, 5, -1, 0.4], [0, -5, 1, -0.4], [0, 9, 9, 0.1]):
        direction = fit_line(np.array([[at, 0.0] for at in x])).direction
        assert direction[0] == pytest.approx(np.sign(x[-1] - x[0])), x


def test_weights_count_as_points_do():
    three = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 1.0]])
    doubled = np.vstack([three, three[2]])
    weighted = fit_line(three, np.array([1.0, 1.0, 2.0]))
    assert weighted.point == pytest.approx(fit_line(doubled).point)
    assert weighted.direction == pytest.approx(fit_line(doubled).direction)
    # Nothing believed in: all points count alike.
    assert fit_line(three, np.zeros(3)).point == pytest.approx(fit_line(three).point)
    # A little belief is belief.
    assert fit_line(three, np.array([0.2, 0.2, 0.0])).point == pytest.approx((5.0, 0.0))


def test_a_robust_line_gives_points_within_scatter_nearly_full_weight():
    x = np.linspace(0, 100, 41)
    y = np.where(np.arange(41) % 2 == 0, 0.5, -0.5)
    line, weights = fit_line_robustly(np.column_stack([x, y]), 0.5)
    # Scatter 1.4826 x 0.5; Tukey's weight of a point 0.5 off is (1 - (0.5 / (4.685 s))^2)^2.
    expected = (1 - (0.5 / (4.685 * 1.4826 * 0.5)) ** 2) ** 2
    assert weights == pytest.approx(np.full(41, expected), abs=0.01)
    assert line.direction == pytest.approx((1.0, 0.0), abs=1e-3)


def test_the_smallest_scatter_to_believe_in_holds_where_points_are_better():
    x = np.linspace(0, 100, 41)
    y = np.zeros(41)
    y[20] = 2.0
    exact, weights = fit_line_robustly(np.column_stack([x, y]), 1.0)
    assert weights[20] == pytest.approx((1 - (2.0 / 4.685) ** 2) ** 2, abs=0.02)
    _, strict = fit_line_robustly(np.column_stack([x, y]), 0.1)
    assert strict[20] == 0.0
    assert exact.distances(np.array([[50.0, 0.0]]))[0] == pytest.approx(0.0, abs=0.05)


def test_a_robust_line_through_points_that_all_stray_is_still_a_line():
    # Two points, any scatter: nothing to leave out.
    line, weights = fit_line_robustly(np.array([[0.0, 0.0], [4.0, 3.0]]), 0.1)
    assert line.direction == pytest.approx((0.8, 0.6))
    assert weights == pytest.approx((1.0, 1.0))
