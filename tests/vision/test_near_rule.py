"""A board that lies so near to the rule that its arris lies in what counts as the rule."""

import numpy as np
import pytest

from scanner.vision.outline.face_map import _runs_on

ROWS, COLUMNS, RULE_FROM = 120, 60, 80


def told(face_to: int) -> np.ndarray:
    """Return the rows of each column told under the rule, of a face told down to some row."""
    down = np.arange(ROWS)[:, None] * np.ones((1, COLUMNS), int)
    seen = down < RULE_FROM
    return _runs_on((down > 20) & (down < face_to), seen, np.ones_like(seen), 1.0)[RULE_FROM:]


@pytest.mark.parametrize("into_mm", [0, 6])
def test_a_face_that_ends_at_the_rules_rim_or_in_it_is_told_with_a_little_floor(into_mm):
    assert (told(RULE_FROM + into_mm).sum(axis=0) == into_mm + 3).all()


@pytest.mark.parametrize("face_to", [RULE_FROM - 10, ROWS])
def test_a_rule_with_floor_before_it_and_a_batten_that_passes_for_face_are_told_nothing(face_to):
    assert not told(face_to).any()
