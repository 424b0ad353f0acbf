import numpy as np
import pytest

from scanner.vision.rule.step_map import StepMap

MAP = StepMap(1.2, (36.0, 0.0))
NUMBERS = np.arange(1, 36)


def test_lines_that_perspective_slants_stand_at_even_places():
    slanted = MAP.shares(NUMBERS + 0.02 + 0.003 * NUMBERS)
    assert MAP.scatter(slanted, NUMBERS) == pytest.approx(0.0, abs=1e-3)


def test_a_few_misread_lines_do_not_make_an_edge_scattered():
    read = NUMBERS.astype(float)
    read[[4, 17, 30]] += 0.1
    assert MAP.scatter(MAP.shares(read), NUMBERS) < 0.02


def test_lines_taken_as_they_came_are_scattered():
    # Now the inch line, now the eighth beside it, as beyond a shadow's edge.
    mixed = NUMBERS + np.where(np.arange(len(NUMBERS)) % 3 == 0, 0.0625, -0.0625)
    mixed = mixed + np.where(np.arange(len(NUMBERS)) % 2 == 0, 0.02, -0.02)
    assert MAP.scatter(MAP.shares(mixed), NUMBERS) > 0.04
