"""One board is asked copy by copy: just what it holds is allowed, and laid out."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from scanner.placement.choosing.patterns import pattern_of
from scanner.placement.choosing.problem import problem_of
from scanner.placement.kernels import one_board as kernels
from scanner.placement.proof.closer_look import CloserLook
from scanner.placement.proof.one_board import OneBoard
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS
from tests.instances.tiny import SHOP, board, part
from tests.placement.test_class_bound import drawn_in_units


def asked_of(one, parts, shop) -> OneBoard:
    wanted = [p.quantity for p in parts]
    problem = problem_of((one,), parts, wanted, shop, row_heights=FINE_ROW_HEIGHTS)
    return OneBoard((one,), parts, shop, problem)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_a_board_holds_what_it_holds_where_all_ways_can_be_tried(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    shop = replace(SHOP, kerf_mm=0.0)
    one, parts, wanted, all_ways = drawn_in_units(rng, 3)
    asked = asked_of(one, parts, shop)
    every = all_ways(True)
    for held in product(*(range(n + 1) for n in wanted)):
        if not any(held):
            continue
        counts = np.array(held, float)
        assert asked.may_hold(0, counts) == (held in every)
        assert asked.may_hold_closest(0, counts) == (held in every)
        places = asked.places(0, counts)
        assert (places is not None) == (held in every)
        if places is not None:
            assert tuple(pattern_of(0, places, 3).counts) == held


@pytest.mark.slow
@pytest.mark.parametrize(
    ("wide", "holds"), [(123.2, True), (123.1, False)], ids=["just", "a tenth short"]
)
def test_a_tenth_of_a_millimetre_decides(wide: float, holds: bool) -> None:
    """Two strips with a kerf between take 123.2 mm: no cell of the bound tells these apart."""
    parts = [part("wide", 1, 300.0, 70.0), part("narrow", 1, 300.0, 50.0)]
    shop = replace(SHOP, kerf_mm=3.2)
    asked = asked_of(board("B1", 310.0, wide), parts, shop)
    both = np.ones(2)
    assert asked.may_hold_closest(0, both) == holds
    assert (asked.places(0, both) is not None) == holds


def test_more_copies_than_can_be_gone_through_are_not_asked_for() -> None:
    parts = [part(f"p{n}", 9, 10.0 + n, 10.0) for n in range(4)]
    asked = OneBoard((board("B1", 20.0, 20.0),), parts, SHOP)
    assert not asked.can_be_asked(np.full(4, 9.0))
    assert asked.may_hold(0, np.full(4, 9.0))


def test_the_fewest_copies_that_a_board_refuses_are_found() -> None:
    """It holds two of the first part or three of the second, whatever of the third."""
    closer = CloserLook(lambda _, counts: counts[0] <= 2 and counts[1] <= 3)
    counts = np.array([4.0, 2, 5])
    assert closer.refuses(0, counts)
    assert closer.refused_within(0, counts).tolist() == [3, 0, 0]
    listed = np.array([[2.0, 4, 0], [3, 0, 0], [2, 3, 9], [1, 1, 1]])
    first, worth = closer.held_first(0, listed, np.array([9.0, 8, 7, 6]))
    assert first.tolist() == [[2, 3, 9], [1, 1, 1]]
    assert worth.tolist() == [7, 6]


def test_rows_are_joined_with_what_lies_in_any_of_them() -> None:
    pointer = np.array([0, 2, 3, 3, 4])
    starts = np.array([[5, 8], [20, 21], [7, 12], [1, 2]])
    joined, found = kernels.joined_rows(pointer, starts, 3)
    assert joined.tolist() == [0, 2, 3]
    assert found.tolist() == [[5, 12], [20, 21], [1, 2]]
