"""A photo whose arris another contradicts is a witness, however much of the side it shows."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.outline.several import _is_apart, _shares
from scanner.vision.outline.side import Side

COLUMNS, REACH_MM = 60, 7.0


def side(reach_mm: float) -> Side:
    t = np.arange(0.0, 121.0)
    known = np.zeros((120, COLUMNS), np.float32)
    at, reach = 4.0 * np.arange(COLUMNS), np.full(121, reach_mm)
    return Side(known, known, known, t, at, reach, known, known)


def level(*arris_mm: np.ndarray) -> np.ndarray:
    """Return the odds of each view, its arris told in every column."""
    told = np.full((len(arris_mm), 121, COLUMNS), -12.0, np.float32)
    for view, at in enumerate(arris_mm):
        told[view, at.astype(int), np.arange(COLUMNS)] = 0.0
    return told


@pytest.mark.parametrize(("further_mm", "is_apart"), [(6.0, False), (24.0, True)])
def test_what_shows_of_a_side_explains_so_much_and_no_more(further_mm, is_apart):
    best = np.full(COLUMNS, 80.0)
    odds = level(best + further_mm, best)
    share = np.repeat(np.float32([[0.14], [0.86]]), COLUMNS, axis=1)
    laid = [side(REACH_MM), side(0.0)]
    assert (_is_apart(laid, odds, share, 0) == is_apart).all()


def test_single_columns_of_a_map_do_not_make_a_witness():
    best = np.full(COLUMNS, 80.0)
    odd_ones = np.where(np.arange(COLUMNS) % 4 == 0, 30.0, 0.0)
    share = np.repeat(np.float32([[0.14], [0.86]]), COLUMNS, axis=1)
    assert not _is_apart([side(0.0), side(0.0)], level(best + odd_ones, best), share, 0).any()


@pytest.mark.parametrize(("hidden_from_mm", "counts_most"), [(92.0, 0), (121.0, 1)])
def test_a_photo_whose_rule_hides_the_floor_is_not_believed_further_in(hidden_from_mm, counts_most):
    shows_side, hides_floor = side(REACH_MM), side(0.0)
    rows = np.arange(120.0)[:, None] * np.ones(COLUMNS)
    laid = [
        replace(shows_side, seen=np.ones_like(shows_side.seen)),
        # Wood that ends where its rule hides the rest is taken for floor.
        replace(hides_floor, seen=(rows < hidden_from_mm).astype(np.float32)),
    ]
    best = np.full(COLUMNS, 90.0)
    share = _shares(laid, level(best, best - 24.0))
    assert (share.argmax(axis=0) == counts_most).all()
