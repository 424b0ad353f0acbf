"""The row whose joints cost least, against trying everything."""

from itertools import permutations, product

import numpy as np
import pytest

from scanner.lot.best_order import MOST_EXACT, best_row, cost_of


def tried_all(joints, allowed):
    count, kinds = joints.shape[:2]
    return min(
        cost_of(joints, order, states)
        for order in permutations(range(count))
        for states in product(range(kinds), repeat=count)
        if all(allowed[k, s] for k, s in zip(order, states, strict=True))
    )


@pytest.mark.parametrize("seed", range(6))
def test_the_exact_row_is_the_best_of_all_rows(seed):
    rng = np.random.default_rng(seed)
    joints = rng.random((4, 2, 4, 2))
    allowed = rng.random((4, 2)) < 0.8
    allowed[:, 0] |= ~allowed.any(axis=1)
    row = best_row(joints, allowed)
    assert row.is_exact
    assert sorted(row.order) == [0, 1, 2, 3]
    assert all(allowed[k, s] for k, s in zip(row.order, row.states, strict=True))
    assert row.cost == pytest.approx(cost_of(joints, row.order, row.states))
    assert row.cost == pytest.approx(tried_all(joints, allowed))


def test_one_piece_is_a_row_of_its_own():
    assert best_row(np.zeros((1, 2, 1, 2))).order == (0,)


def test_many_pieces_give_a_row_that_no_exchange_improves():
    rng = np.random.default_rng(3)
    count = MOST_EXACT + 3
    joints = rng.random((count, 2, count, 2))
    row = best_row(joints)
    assert not row.is_exact
    assert sorted(row.order) == list(range(count))
    random = [cost_of(joints, rng.permutation(count), [0] * count) for _ in range(20)]
    assert row.cost < min(random)


def test_a_piece_that_may_lie_in_no_state_is_refused():
    with pytest.raises(ValueError, match="no state"):
        best_row(np.zeros((2, 1, 2, 1)), np.array([[True], [False]]))
