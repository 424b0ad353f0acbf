import math
from dataclasses import replace

import pytest
from scipy.optimize import minimize_scalar

from scanner.board import taught as teaching
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.taught import Taught
from tests.common import ellipse, plain_board

KEPT, STRUCK = FlawState.CONFIRMED, FlawState.STRUCK


def taught_by(flaws, looked_over=True):
    board = plain_board("B01")
    faces = {n: replace(face, looked_over=looked_over) for n, face in board.faces.items()}
    return teaching.taught_by([replace(board, faces=faces, flaws=tuple(flaws))])


def candidate(score, state=FlawState.POSSIBLE, kind=FlawKind.CHECK):
    return Flaw("F1", kind, {1: ellipse(900, 90, 30, 2)}, score=score, state=state)


def test_struck_candidates_make_the_next_of_their_kind_less_sure_and_of_no_other():
    taught = taught_by([candidate(0.7, STRUCK)] * 4)
    assert taught.score_of(candidate(0.7)) < 0.4
    assert taught.score_of(candidate(0.7, kind=FlawKind.KNOT)) == 0.7


def test_the_order_within_a_kind_stays():
    taught = taught_by([candidate(0.4, KEPT)] * 3)
    scores = [taught.score_of(candidate(score)) for score in (0.31, 0.5, 0.8, 0.98)]
    assert scores == sorted(scores)
    assert all(0 < score < 1 for score in scores)


def test_one_nod_moves_less_than_many():
    one, many = (taught_by([candidate(0.5, KEPT)] * n).score_of(candidate(0.5)) for n in (1, 12))
    assert 0.5 < one < 0.75 < many


def test_what_was_drawn_teaches_nothing_nor_a_board_of_which_nothing_was_said():
    assert taught_by([candidate(0.5)] * 3).shifts == {}
    assert taught_by([candidate(None, FlawState.ADDED)]).shifts == {}
    assert taught_by([candidate(0.5, STRUCK)], looked_over=False).shifts == {}
    assert Taught().score_of(candidate(0.5)) == 0.5
    assert taught_by([candidate(0.5, KEPT)]).score_of(candidate(None)) is None


def test_what_is_left_open_beside_something_struck_was_let_stand():
    taught = taught_by([candidate(0.5), candidate(0.5), candidate(0.5, STRUCK)])
    assert taught.score_of(candidate(0.5)) > 0.5


def test_the_shift_is_the_most_likely_one():
    """Held against a general minimiser of the same posterior."""
    said = [(0.9, STRUCK), (0.6, KEPT), (0.35, KEPT), (0.8, KEPT), (0.95, STRUCK)]

    def loss(shift):
        total = shift**2 / 2
        for score, state in said:
            odds = math.log(score / (1 - score)) + shift
            total += math.log1p(math.exp(-odds if state is KEPT else odds))
        return total

    shift = taught_by([candidate(*pair) for pair in said]).shifts[FlawKind.CHECK]
    assert shift == pytest.approx(minimize_scalar(loss).x, abs=1e-3)
