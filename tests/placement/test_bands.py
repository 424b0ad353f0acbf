"""Rows that are clear for the same lengths of wood are looked at once."""

import numpy as np
import pytest

from scanner.placement.kernels.mixed import MOST_COPIES, MOST_LEVELS, all_levels
from scanner.placement.kernels.strips import BIG, MOST_IN_A_STRIP, all_ends, bands_of

LENGTH = np.array([300, 450], np.int32)


def _ground(rng):
    """Return pointer and runs of two types on 40 rows, each row often like the one before."""
    pointer, runs = np.zeros((2, 41), np.int32), []
    for t in range(2):
        pointer[t, 0] = len(runs)
        own = []
        for j in range(40):
            if j == 0 or rng.random() < 0.3:
                cuts = np.sort(rng.integers(0, 4000, 2 * rng.integers(0, 3)))
                own = [(a, b) for a, b in cuts.reshape(-1, 2).tolist() if b - a >= LENGTH[t]]
            runs += own
            pointer[t, j + 1] = len(runs)
    return pointer, np.array(runs or np.zeros((0, 2)), np.int32).reshape(-1, 2)


def _ends(pointer, runs, behind, x, stop):
    ends = np.full((2, MOST_IN_A_STRIP, 40), -1, np.int32)
    deepest = np.zeros(2, np.int64)
    active, left = np.arange(2), np.array([5, 2], np.int32)
    all_ends(pointer, runs, LENGTH, behind, active, left, x, stop, 32, ends, deepest)
    return [ends[t, : deepest[t]] for t in range(2)]


@pytest.mark.parametrize("seed", range(20))
def test_what_lies_in_a_band_of_rows_is_what_lies_in_each_of_them(seed):
    rng = np.random.default_rng(seed)
    pointer, runs = _ground(rng)
    behind = bands_of(pointer, runs)
    alone = np.tile(np.arange(1, 41), (2, 1))
    assert np.any(behind > alone)
    x, stop = int(rng.integers(0, 1500)), int(rng.integers(2500, 4000))
    by_band, by_row = _ends(pointer, runs, behind, x, stop), _ends(pointer, runs, alone, x, stop)
    for one, other in zip(by_band, by_row, strict=True):
        assert np.array_equal(one, other)
        assert np.all((one == BIG) | (one <= stop))


def _levels(pointer, runs, behind, x, stop):
    """Return ends, worth and types of the levels of one group of both types, and its depth."""
    shape = (MOST_LEVELS + 1, 40)
    ends = np.full((3, *shape), -1, np.int32)
    worth, many = np.zeros((1, *shape), np.float32), np.zeros((1, *shape), np.int64)
    kinds, deepest = np.zeros((1, *shape, MOST_COPIES), np.int16), np.zeros(3, np.int64)
    price, left = np.array([3, 5], np.float32), np.array([5, 2], np.int32)
    all_levels(
        pointer, runs, LENGTH, behind, np.array([0, 2]), np.array([0, 1]), np.array([2]), 2, price,
        left, x, stop, 32, ends, deepest, worth, kinds, many,
    )  # fmt: skip
    deep = int(deepest[2])
    is_there = ends[2, :deep] < BIG
    lying = [
        kinds[0, i, j, : many[0, i, j]].tolist() for i, j in zip(*np.nonzero(is_there), strict=True)
    ]
    return ends[2, :deep].tolist(), worth[0, :deep][is_there].tolist(), lying


@pytest.mark.parametrize("seed", range(20))
def test_what_lies_mixed_in_a_band_of_rows_is_what_lies_in_each_of_them(seed):
    rng = np.random.default_rng(100 + seed)
    pointer, runs = _ground(rng)
    alone = np.tile(np.arange(1, 41), (2, 1))
    x, stop = int(rng.integers(0, 1500)), int(rng.integers(2500, 4000))
    by_row = _levels(pointer, runs, alone, x, stop)
    assert _levels(pointer, runs, bands_of(pointer, runs), x, stop) == by_row
    assert by_row[2]


def test_rows_with_other_clear_runs_are_never_one_band():
    rng = np.random.default_rng(7)
    pointer, runs = _ground(rng)
    behind = bands_of(pointer, runs)
    for t in range(2):
        rows = [runs[pointer[t, j] : pointer[t, j + 1]].tolist() for j in range(40)]
        for j in range(40):
            assert all(rows[k] == rows[j] for k in range(j, behind[t, j]))
            assert behind[t, j] == 40 or rows[behind[t, j]] != rows[j]
