"""A rule whose two edges carry unlike steps: inches at one, centimetres at the other."""

import numpy as np
import pytest

from scanner.vision.rule.division import division
from scanner.vision.rule.even_sides import uneven_side, unsure_sides
from scanner.vision.rule.step_map import StepMap
from scanner.vision.rule.tick_signal import GROUPS, ROWS, TickSignal

COLUMNS = 1800


def _groups(steps, lines):
    """Return groups of which the upper edge has so many lines a step, the longest at each step."""
    x = np.linspace(0.0, steps, COLUMNS)
    noise = np.random.default_rng(4).normal(0, 0.05, COLUMNS)
    signal = sum(
        share * np.exp(-0.5 * ((x * many - np.rint(x * many)) / many / 0.01) ** 2)
        for many, share in lines.items()
    )
    groups = np.zeros((2 * GROUPS, COLUMNS))
    groups[:GROUPS] = signal + noise
    return groups


def test_inches_are_divided_in_halves_and_centimetres_in_tenths():
    inches = division(_groups(6, {1: 1.0, 2: 0.7, 4: 0.6, 8: 1.0}), StepMap(1.0, (6.0, 0.0)), 900.0)
    tenths = division(_groups(15, {1: 1.0, 2: 0.6, 10: 1.0}), StepMap(1.0, (15.0, 0.0)), 900.0)
    assert inches[0] > 1.0 > 0.0 > inches[1]
    assert tenths[1] > 1.5


def test_half_millimetres_are_tenths_too():
    lines = {1: 1.0, 2: 0.6, 10: 0.05, 20: 1.0}
    assert division(_groups(5, lines), StepMap(1.0, (5.0, 0.0)), 900.0)[1] > 1.5


@pytest.mark.parametrize("length_px", [0.5, 60.0])
def test_what_is_too_fine_to_be_seen_says_nothing(length_px):
    groups = _groups(15, {1: 1.0, 10: 1.0})
    assert division(groups, StepMap(1.0, (15.0, 0.0)), length_px) == (0.0, 0.0)
    assert division(np.zeros_like(groups), StepMap(1.0, (15.0, 0.0)), 900.0) == (0.0, 0.0)


def _lines(scatter):
    """Return numbers, heights and shares of even lines at one edge and scattered ones below."""
    random = np.random.default_rng(3)
    numbers = np.tile(np.arange(1, 12), 2)
    heights = np.repeat([0.3, -0.3], 11)
    off = np.where(heights > 0, random.normal(0, 0.005, 22), random.uniform(-scatter, scatter, 22))
    return numbers, heights, (numbers + off) / 12


@pytest.mark.parametrize(("scatter", "side"), [(0.2, -1.0), (0.01, 0.0)])
def test_lines_that_stand_anyhow_are_told_from_the_other_edges_even_ones(scatter, side):
    steps = StepMap(1.0, (12.0, 0.0))
    lines = _lines(scatter)
    assert uneven_side(*lines, steps, 800.0) == side
    assert unsure_sides(*lines, steps, 800.0) == ((side,) if side else ())


def test_few_lines_of_an_edge_make_no_other_one_uneven():
    numbers, heights, shares = (one[:14] for one in _lines(0.2))
    assert uneven_side(numbers, heights, shares, StepMap(1.0, (12.0, 0.0)), 800.0) == 0.0


def test_the_signal_of_one_edge_is_none_of_the_other():
    signal = TickSignal(np.ones((ROWS, 50)), 0.0, 0.0)
    upper = signal.of_edge(1.0).groups()
    lower = signal.of_edge(-1.0).groups()
    assert upper[:GROUPS].min() == 1.0 and not upper[GROUPS:].any()
    assert lower[GROUPS:].min() == 1.0 and not lower[:GROUPS].any()
