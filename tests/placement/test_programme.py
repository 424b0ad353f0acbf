"""Programmes have the answer that a person can see they have."""

import numpy as np
import pytest
from scipy import sparse

from scanner.placement.choosing.programme import most


@pytest.mark.parametrize("room_mm2", [216824.46859931282, 216824.46859894588])
def test_rooms_that_differ_in_their_last_digits_still_hold_parts(room_mm2):
    # One board's room for all six parts together, and that of each family of them alone.
    need = np.array(
        [120881.27250000002, 91892.8725, 39011.4725, 127010.3725, 48708.4725, 18227.0725]
    )
    value = np.array([101200.0, 74480.0, 30100.0, 110960.0, 37200.0, 12320.0])
    families = ((0, 1, 2, 3, 4, 5), (0, 2), (1, 3), (4,), (5,))
    rows = np.zeros((5, 6))
    for row, parts in zip(rows, families, strict=True):
        row[list(parts)] = need[list(parts)]
    limit = np.full(5, 216824.46859894588)
    limit[0] = room_mm2
    found = most(value, sparse.csr_matrix(rows), limit, np.array([24.0, 24, 40, 12, 24, 60]))
    # The part worth most for its room, as often as it goes in.
    assert found.value == pytest.approx(110960.0 * room_mm2 / 127010.3725)
    assert (found.prices >= -1e-9).all()
