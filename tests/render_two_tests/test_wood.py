"""The second renderer's solid: years, fibres, pigment, cracks."""

import numpy as np
import pytest

from tests.render_two.branches import Branch, flow_round
from tests.render_two.cracks import Trace, cover
from tests.render_two.growth import grow
from tests.render_two.pigment import absorption, reflectance


@pytest.fixture(scope="module")
def stem():
    return grow(np.random.default_rng(1), 1500.0, (80.0, -60.0), (1.5, 4.0))


def branch(**changes):
    told = dict(
        base=np.array([500.0, 80.0, -60.0]), way=np.array([0.0, 0.0, 1.0]), widen=0.15,
        dead_mm=300.0, end_mm=400.0, look="sound", bark_mm=1.0, lobes=(), cracks=(), ring_mm=1.0,
    )  # fmt: skip
    return Branch(**told | changes)


def test_years_rise_with_the_distance_from_the_pith(stem):
    r = np.linspace(5, 250, 400).astype(np.float32)
    for turn in np.linspace(0, 6, 7):
        x = np.full_like(r, 700.0)
        py, pz = stem.pith_at(x)
        year = stem.year(x, (py + r * np.cos(turn)).astype(np.float32), pz + r * np.sin(turn))
        assert (np.diff(year) >= -1e-3).all()
        assert year[-1] - year[0] > 245 / 9  # no ring is wider than 9 mm


def test_fibres_part_round_a_branch_and_are_straight_far_from_it():
    one = branch()
    s = np.full(3, 60.0)
    radius = one.radius(s)[0]
    q = np.array([radius * 1.01, 4 * radius, 40 * radius])
    push, _ = flow_round(one, s, np.zeros(3), q)
    # A fibre that touches the branch came from its axis; far away nothing moves.
    assert abs(q[0] + push[0]) < 0.1 * radius
    assert abs(push[2]) < 0.03 * radius
    assert abs(push[1]) < abs(push[0])


def test_a_branch_that_healed_over_is_not_in_the_wood_beyond():
    one = branch(end_mm=50.0)
    assert one.is_wood(np.array([20.0, 60.0]), np.zeros(2)).tolist() == [True, False]


def test_absorption_and_reflectance_undo_each_other():
    r = np.linspace(0.01, 0.95, 50)
    assert np.allclose(reflectance(absorption(r)), r, atol=1e-4)


@pytest.mark.parametrize("opening", [0.1, 0.3, 0.8, 2.4])
def test_a_crack_takes_as_much_of_the_picture_as_it_opens(opening):
    line = np.column_stack([np.linspace(10, 60, 40), np.linspace(20, 24, 40)])
    trace = Trace(1, line, np.full(40, opening), 0.0)
    share = cover(trace, (80, 160), 0.5, (0.0, 0.0))
    assert share.sum() * 0.25 == pytest.approx(50 * opening, rel=0.03)
