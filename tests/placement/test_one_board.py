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
from scanner.placement.proof.copy_sets import copy_sets
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


def test_of_more_copies_than_can_be_gone_through_the_larger_are_asked_for() -> None:
    """A board that is too short for the longest says nothing of the short ones, and need not."""
    parts = [part(f"p{n}", 9, 10.0 + n, 10.0) for n in range(4)]
    asked = OneBoard((board("short", 12.5, 20.0), board("long", 1000.0, 40.0)), parts, SHOP)
    every = np.full(4, 9.0)
    assert not asked.can_be_asked(every)
    assert asked.askable(every).tolist() == [0, 9, 9, 9]
    assert not asked.may_hold(0, every)
    assert not asked.may_hold_closest(0, every)
    assert asked.may_hold(1, every)


def test_of_copies_that_can_be_gone_through_none_is_left_out() -> None:
    asked = OneBoard((board("B1", 20.0, 20.0),), [part("p", 3, 10.0, 10.0)], SHOP)
    assert asked.askable(np.array([3.0])).tolist() == [3]


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


def test_the_smallest_parts_are_left_out_first_of_what_a_board_refuses() -> None:
    """It holds the large part or the middle one, so that the small one is no part of the reason."""
    asked: list[list[float]] = []

    def may_hold(_: int, counts: np.ndarray) -> bool:
        asked.append(counts.tolist())
        return not (counts[0] and counts[2])

    closer = CloserLook(may_hold, size=np.array([9.0, 1.0, 5.0]))
    counts = np.ones(3)
    assert closer.refuses(0, counts)
    assert closer.refused_within(0, counts).tolist() == [1, 0, 1]
    assert asked[1:] == [[1, 0, 1], [1, 0, 0], [0, 0, 1]]


def test_each_set_of_copies_is_followed_by_those_that_are_asked_for_together_with_it() -> None:
    copies = np.array([2.0, 1, 3])
    sets = copy_sets(np.array([400, 400, 700]), copies)
    for k, held in enumerate(sets.digits):
        both = np.all(sets.digits + held <= copies, axis=1)
        own = sets.pair_set[sets.pair_ptr[k] : sets.pair_ptr[k + 1]]
        assert own.tolist() == np.flatnonzero(both)[1:].tolist()
    for k, left in enumerate(sets.less):
        for strip, rest in zip(sets.strip_counts, left, strict=True):
            is_held = bool(np.all(sets.digits[k] >= strip))
            assert (rest >= 0) == is_held
            if is_held:
                assert (sets.digits[rest] + strip).tolist() == sets.digits[k].tolist()


def test_rows_are_alike_where_all_parts_may_begin_at_the_same_places() -> None:
    pointer = np.array([[0, 1, 2, 3, 3], [4, 5, 6, 7, 8]])
    starts = np.array([[5, 8], [5, 8], [5, 8], [0, 0], [1, 2], [1, 2], [1, 3], [1, 3]])
    assert kernels.alike_rows(pointer, starts).tolist() == [False, True, False, False]


def test_rows_are_joined_with_what_lies_in_any_of_them() -> None:
    pointer = np.array([0, 2, 3, 3, 4])
    starts = np.array([[5, 8], [20, 21], [7, 12], [1, 2]])
    joined, found = kernels.joined_rows(pointer, starts, 3)
    assert joined.tolist() == [0, 2, 3]
    assert found.tolist() == [[5, 12], [20, 21], [1, 2]]
