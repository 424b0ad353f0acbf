"""A stretch of an arris keeps to the line of the rest, or leaves it."""

import numpy as np
import pytest

from scanner.vision.outline.bowed_line import keeps_its_line

X = 4.0 * np.arange(200)
BOWED = 300.0 + 2.0 * np.sin(np.pi * X / X[-1])


@pytest.mark.parametrize(
    ("in_mm", "keeps"),
    [(0.0, True), (0.6, True), (4.0, False)],  # no more than a saw's wander; under grass
)
def test_what_lies_over_an_edge_takes_it_off_its_line(in_mm, keeps):
    covered = (X > 100.0) & (X < 150.0)
    edge = np.column_stack([X, BOWED - in_mm * covered])
    assert keeps_its_line(edge, 100.0, 300.0) is keeps


def test_an_edge_of_no_line_keeps_to_none():
    edge = np.column_stack([X, BOWED + 6.0 * np.sin(X / 40.0)])
    assert not keeps_its_line(edge, 100.0, 300.0)
