import numpy as np
import pytest

from scanner.vision.grain import grain_field, masked_blur, turned_from


def streaks(angle_deg, size=(160, 240), seed=0):
    """Lines along one direction, their lightness at random."""
    y, x = np.mgrid[0 : size[0], 0 : size[1]].astype(np.float32)
    a = np.radians(angle_deg)
    across = -np.sin(a) * x + np.cos(a) * y
    rng = np.random.default_rng(seed)
    light = sum(
        np.sin(2 * np.pi * across / wave + phase)
        for wave, phase in zip(rng.uniform(5, 25, 8), rng.uniform(0, 6, 8), strict=True)
    )
    return (60 + 2 * light).astype(np.float32)


def mean_direction(field, where):
    """Return the mean grain direction of a region, weighted by coherence, radians."""
    doubled = 2.0 * field.angle_rad[where].astype(np.float64)
    weight = field.coherence[where].astype(np.float64)
    if weight.sum() <= 0:
        return 0.0
    return float(
        0.5 * np.arctan2((weight * np.sin(doubled)).sum(), (weight * np.cos(doubled)).sum())
    )


@pytest.mark.parametrize("angle_deg", [0.0, 4.0, -12.0, 30.0, -45.0])
def test_direction_of_straight_grain_is_found_within_two_degrees(angle_deg):
    light = streaks(angle_deg)
    field = grain_field(light, np.ones(light.shape, bool), 0.5)
    inner = np.zeros(light.shape, bool)
    inner[30:-30, 30:-30] = True
    assert np.degrees(mean_direction(field, inner)) == pytest.approx(angle_deg, abs=2.0)


def test_saw_marks_do_not_turn_the_grain():
    light = streaks(2.0)
    marks = 3 * np.sin(2 * np.pi * np.arange(light.shape[1]) / 9.0)
    field = grain_field(light + marks.astype(np.float32), np.ones(light.shape, bool), 0.5)
    assert abs(np.degrees(mean_direction(field, np.ones(light.shape, bool)))) < 6.0


def test_direction_comes_from_wood_only():
    light = streaks(0.0)
    light[:40] = streaks(70.0)[:40] * 3
    wood = np.ones(light.shape, bool)
    wood[:40] = False
    field = grain_field(light, wood, 0.5)
    near_edge = np.zeros(light.shape, bool)
    near_edge[46:60, 20:-20] = True
    assert abs(np.degrees(mean_direction(field, near_edge))) < 3.0


def test_turn_between_directions_forgets_the_arrow():
    angles = np.array([np.pi / 2, -1.5, 0.1], dtype=np.float32)
    assert turned_from(angles, -np.pi / 2)[0] == pytest.approx(0.0, abs=1e-6)
    assert turned_from(angles, np.pi)[2] == pytest.approx(0.1, abs=1e-6)


def test_masked_blur_keeps_a_constant_next_to_what_does_not_count():
    values = np.full((40, 40), 7.0, dtype=np.float32)
    values[:, 20:] = 1000.0
    weight = np.ones((40, 40), dtype=np.float32)
    weight[:, 20:] = 0.0
    assert masked_blur(values, weight, 3.0, 3.0)[:, :20] == pytest.approx(7.0, abs=1e-3)
