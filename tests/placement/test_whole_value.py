"""What a lot is worth at most: just the best choice of one pattern a board, none in excess."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from scanner.placement.proof.closer_look import CloserLook, Maker
from scanner.placement.proof.pricing import Pricing
from scanner.placement.proof.whole_choice import fullest, none_in_excess
from scanner.placement.proof.whole_value import WholeValue
from tests.placement.test_whole_copies import Listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from scanner.placement.wanted.items import Floats


def best(boards: Sequence[Listed], value: Floats, wanted: Floats) -> float:
    """Return the value of the best choice: all are tried."""
    return max(
        float(np.minimum(np.sum(chosen, axis=0), wanted) @ value)
        for chosen in product(*(b.patterns for b in boards))
    )


def bound(
    boards: Sequence[Listed], value: Floats, wanted: Floats, reached: float = 0.0,
    closer: CloserLook | None = None, maker: Maker | None = None,
) -> float:  # fmt: skip
    whole = WholeValue(
        Pricing(cast("Any", boards)), value, wanted, lambda: False, closer or CloserLook(), maker
    )
    return whole.bound(0.3 * value, float("inf"), reached)


def some_boards(rng: np.random.Generator) -> tuple[list[Listed], Floats, Floats]:
    boards = [Listed(rng.integers(0, 3, (4, 4)).astype(float)) for _ in range(3)]
    return boards, rng.uniform(1, 9, 4), rng.integers(1, 6, 4).astype(float)


@pytest.mark.parametrize("seed", range(8))
def test_no_choice_of_patterns_is_worth_more_and_one_is_worth_as_much(seed: int) -> None:
    boards, value, wanted = some_boards(np.random.default_rng(seed))
    assert bound(boards, value, wanted) == pytest.approx(best(boards, value, wanted), rel=1e-4)


def test_half_of_one_pattern_and_half_of_another_count_for_no_more_than_one() -> None:
    """Prices alone would take half of each pair: one of everything, worth 18."""
    first = Listed(np.array([[1.0, 1, 0, 0], [0, 0, 1, 1]]))
    second = Listed(np.array([[1.0, 0, 1, 0], [0, 1, 0, 1]]))
    value, wanted = np.array([3.0, 4.0, 5.0, 6.0]), np.ones(4)
    assert bound([first, second], value, wanted) == pytest.approx(15.0, rel=1e-4)


def test_what_a_closer_look_refuses_a_board_does_not_give() -> None:
    board = Listed(np.array([[2.0, 1], [0, 2]]))
    value, wanted = np.array([3.0, 4.0]), np.array([2.0, 2])
    assert bound([board], value, wanted) == pytest.approx(10.0, rel=1e-4)
    closer = CloserLook(lambda _board, counts: counts.sum() < 3)
    assert bound([board], value, wanted, closer=closer) == pytest.approx(8.0, rel=1e-4)


def test_what_only_the_closest_look_refuses_does_not_count_unless_it_was_laid_out() -> None:
    board = Listed(np.array([[2.0, 1], [0, 2]]))
    value, wanted = np.array([3.0, 4.0]), np.array([2.0, 2])
    asked: list[Floats] = []

    def closest(_board: int, counts: Floats) -> bool:
        asked.append(counts)
        return bool(counts.sum() < 3)

    found = bound([board], value, wanted, closer=CloserLook(closest=closest))
    assert found == pytest.approx(8.0, rel=1e-4)
    assert [2, 1] in [counts.tolist() for counts in asked]
    asked.clear()
    laid = Maker(CloserLook(), lambda held: float(held.sum(axis=0) @ value))
    found = bound([board], value, wanted, closer=CloserLook(closest=closest), maker=laid)
    assert found == pytest.approx(10.0, rel=1e-4)
    assert asked == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_the_best_choice_that_can_be_laid_out_is_left_with_the_maker(seed: int) -> None:
    """The first board is laid out with two copies at most, though it may hold more."""
    boards, value, wanted = some_boards(np.random.default_rng(seed))
    taken: list[Floats] = []

    def take(held: Floats) -> float:
        assert np.all(held.sum(axis=0) <= wanted)
        taken.append(held)
        return float(held.sum(axis=0) @ value)

    maker = Maker(CloserLook(lambda board, counts: board > 0 or counts.sum() <= 2), take)
    most = bound(boards, value, wanted, maker=maker)
    few = [held for held in product(range(3), repeat=4) if sum(held) <= 2]
    held_there = [
        held for held in few if any(np.all(np.array(held) <= p) for p in boards[0].patterns)
    ]
    could = best([Listed(np.array(held_there, float)), *boards[1:]], value, wanted)
    assert taken
    assert most >= best(boards, value, wanted) * (1 - 1e-6)
    assert float(taken[-1].sum(axis=0) @ value) == pytest.approx(could, rel=1e-3)


def test_of_listed_patterns_those_count_that_no_other_holds_with_a_copy_more() -> None:
    listed = np.array([[1.0, 0], [1, 1], [0, 1], [3, 0]])
    assert fullest(listed).tolist() == [[1, 1], [3, 0]]
    # Of so many copies a byte cannot tell one from 256 more.
    many = np.array([[256.0, 1], [1, 1]])
    assert fullest(many).tolist() == many.tolist()


def test_copies_that_nobody_wants_are_left_out_on_the_last_boards() -> None:
    held = np.array([[2.0, 1], [2, 0], [1, 3]])
    assert none_in_excess(held, np.array([3.0, 2])).tolist() == [[2, 1], [1, 0], [0, 1]]


def held_but_refused(
    boards: Sequence[Listed], refused: Sequence[NDArray[np.int64]]
) -> list[Listed]:
    """Return all that boards hold but what holds one of so many refused copies, (R, T) each."""
    return [
        Listed(
            np.array(
                [
                    held
                    for held in {h for p in b.patterns for h in product(*map(range, p + 1))}
                    if not np.any(np.all(np.array(held) >= own, axis=1))
                ],
                float,
            )
        )
        for b, own in zip(boards, refused, strict=True)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [36, 49, 53, 77, 78, 79])
def test_what_refusals_leave_counts_though_all_that_was_known_is_refused(seed: int) -> None:
    """The richest list of a board may be refused whole: then poorer patterns are its best."""
    rng = np.random.default_rng(seed)
    boards = [Listed(rng.integers(0, 4, (5, 4)).astype(int)) for _ in range(2)]
    value, wanted = rng.uniform(1, 9, 4), rng.integers(1, 6, 4).astype(float)
    refused = [rng.integers(0, 3, (int(rng.integers(1, 6)), 4)) for _ in boards]
    refused = [own[own.any(axis=1)] for own in refused]
    closer = CloserLook(lambda b, counts: not np.any(np.all(counts >= refused[b], axis=1)))
    closer.is_quick = True
    left = [Listed(fullest(one.patterns)) for one in held_but_refused(boards, refused)]
    could = best(left, value, wanted)
    assert bound(boards, value, wanted, closer=closer) == pytest.approx(could, rel=1e-4)
