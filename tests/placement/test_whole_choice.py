"""The choice of one pattern a board: found just where there is one, and nothing in excess."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from scanner.placement.proof import whole_choice
from scanner.placement.proof.whole_choice import Lists
from tests.placement.test_whole_copies import Listed, hold


def lists_of(boards: list[Listed], wanted: np.ndarray, price: np.ndarray) -> Lists:
    """Return all that may be part of holding everything, as grids list it."""
    top = [float((np.minimum(b.patterns, wanted) @ price).max()) for b in boards]
    slack = max(0.0, sum(top) - float(wanted @ price)) + 1e-6
    listed = [
        b.near_best(price, wanted, best - slack, 1, 999)
        for b, best in zip(boards, top, strict=True)
    ]
    return Lists([one for one in listed if one is not None], wanted, price)


@pytest.mark.parametrize("is_to_be_laid", [False, True])
@pytest.mark.parametrize("seed", range(16))
def test_a_choice_is_found_just_where_there_is_one(seed: int, is_to_be_laid: bool) -> None:
    rng = np.random.default_rng(seed)
    boards = [Listed(rng.integers(0, 3, (5, 4)).astype(float)) for _ in range(3)]
    price = rng.uniform(1, 9, 4)
    chosen = np.sum([board.patterns[rng.integers(5)] for board in boards], axis=0)
    for wanted in (chosen, chosen + rng.integers(0, 2, 4)):
        choice, is_refuted = lists_of(boards, wanted, price).choice(is_to_be_laid)
        assert is_refuted != hold(boards, wanted)
        if choice is not None:
            assert np.sum(choice, axis=0).tolist() == wanted.tolist()
            for board, own in zip(boards, choice, strict=True):
                assert np.any(np.all(board.patterns >= own, axis=1))


def test_what_is_left_out_is_in_no_choice_any_more() -> None:
    """The first board gives two rails or a rail and a stile, the other a stile or a rail."""
    boards = [Listed(np.array([[2.0, 0], [1, 1]])), Listed(np.array([[0.0, 1], [1, 0]]))]
    given = lists_of(boards, np.array([2.0, 1]), np.array([4.0, 5.0]))
    for copies in ([2.0, 0], [1.0, 1]):
        others = given.copy()
        others.leave_out(0, np.array(copies))
        choice, _ = others.choice()
        assert choice is not None and choice[0].tolist() != copies
    for copies in ([2.0, 0], [1.0, 1]):
        given.leave_out(0, np.array(copies))
    assert given.choice() == (None, True)


def test_lists_too_long_to_search_are_asked_of_a_programme(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scanner.placement.proof.whole_choice._MOST_STEPS", 0)
    boards = [Listed(np.array([[2.0, 0], [1, 1]])), Listed(np.array([[0.0, 1], [1, 0]]))]
    wanted, price = np.array([2.0, 1]), np.array([4.0, 5.0])
    choice, _ = lists_of(boards, wanted, price).choice()
    assert choice is not None and np.sum(choice, axis=0).tolist() == wanted.tolist()


def test_what_takes_longer_than_there_is_time_for_is_left_open() -> None:
    boards = [Listed(np.array([[2.0, 0], [1, 1]])), Listed(np.array([[0.0, 1], [1, 0]]))]
    given = lists_of(boards, np.array([2.0, 1]), np.array([4.0, 5.0]))
    assert given.choice(seconds=0.0) == (None, False)
    assert given.choice(seconds=1.0)[0] is not None


def test_no_choice_is_sought_for_long_among_a_part_of_the_patterns(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """That there is none would say nothing: a search too long is not begun, nor a programme."""
    boards = [Listed(np.array([[2.0, 0], [1, 1]])), Listed(np.array([[0.0, 1], [1, 0]]))]
    every = lists_of(boards, np.array([2.0, 1]), np.array([4.0, 5.0]))
    some = Lists(every.listed, every.wanted, every.price, is_part=True)
    assert some.choice()[0] is not None
    steps: list[int] = []

    def too_long(*given: Any) -> tuple[None, bool, int]:
        steps.append(given[-2])
        return None, False, -1

    monkeypatch.setattr(whole_choice, "first_choice", too_long)
    assert every.choice()[0] is not None
    assert some.choice() == (None, False)
    assert steps[1] < steps[0] / 2
