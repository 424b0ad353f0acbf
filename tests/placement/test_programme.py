"""Programmes have the answer that a person can see they have."""

from itertools import product

import numpy as np
import pytest
from scipy import sparse

from scanner.placement.choosing.programme import Floats, least_whole, most, most_whole

# What six parts need of a board with their kerfs, what they are worth, and how many are wanted.
NEED = np.array([120881.27250000002, 91892.8725, 39011.4725, 127010.3725, 48708.4725, 18227.0725])
VALUE = np.array([101200.0, 74480.0, 30100.0, 110960.0, 37200.0, 12320.0])
WANTED = np.array([24.0, 24, 40, 12, 24, 60])
FAMILIES = ((0, 1, 2, 3, 4, 5), (0, 2), (1, 3), (4,), (5,))
ROOM_MM2 = 216824.46859894588


def rooms(room_mm2: float) -> tuple[sparse.csr_matrix, Floats]:
    """Return one board's room for all six parts together, and that of each family of them alone."""
    rows = np.zeros((5, 6))
    for row, parts in zip(rows, FAMILIES, strict=True):
        row[list(parts)] = NEED[list(parts)]
    limit = np.full(5, ROOM_MM2)
    limit[0] = room_mm2
    return sparse.csr_matrix(rows), limit


@pytest.mark.parametrize("room_mm2", [216824.46859931282, ROOM_MM2])
def test_rooms_that_differ_in_their_last_digits_still_hold_parts(room_mm2: float) -> None:
    matrix, limit = rooms(room_mm2)
    found = most(VALUE, matrix, limit, WANTED)
    # The part worth most for its room, as often as it goes in.
    assert found.value == pytest.approx(110960.0 * room_mm2 / 127010.3725)
    assert (found.prices >= -1e-9).all()


@pytest.mark.parametrize("room_mm2", [216824.46859931282, ROOM_MM2])
def test_such_rooms_hold_whole_parts_too(room_mm2: float) -> None:
    matrix, limit = rooms(room_mm2)
    every = np.array(list(product(*(range(int(ROOM_MM2 // n) + 1) for n in NEED))))
    worth = (every @ VALUE)[every @ NEED <= ROOM_MM2]
    found = most_whole(VALUE, matrix, limit, WANTED, 1000)
    assert found.value == pytest.approx(worth.max(), rel=1e-5)
    least = least_whole(NEED, VALUE[None], np.array([worth.max()]), 0 * WANTED, WANTED, 1000)
    cheapest = (every @ NEED)[every @ VALUE >= worth.max()].min()
    assert least.value == pytest.approx(cheapest, rel=1e-4)
