from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.crack_score import scored_by_both_faces
from scanner.board.flaw import Flaw, FlawKind

SHAPE = box(0, 20, 120, 22)
ON_ONE = Flaw("F1", FlawKind.CHECK, {1: SHAPE}, score=0.6)
ON_BOTH = Flaw("F1", FlawKind.SPLIT, {1: SHAPE, 2: SHAPE}, score=0.6, is_through=True)


def test_a_crack_that_the_other_face_shows_too_is_surer_than_one_that_it_does_not():
    assert scored_by_both_faces(ON_BOTH).score > 0.6 > scored_by_both_faces(ON_ONE).score


@pytest.mark.parametrize("flaw", [ON_ONE, ON_BOTH])
def test_the_surer_a_face_is_of_a_crack_the_surer_is_the_board_and_none_is_certain(flaw):
    scores = [
        scored_by_both_faces(replace(flaw, score=score)).score for score in (0, 0.3, 0.6, 0.9, 1)
    ]
    assert scores == sorted(set(scores))
    assert scores[0] > 0
    assert scores[-1] < 1


def test_a_knot_is_as_sure_as_its_face_was():
    knot = replace(ON_ONE, kind=FlawKind.KNOT)
    assert scored_by_both_faces(knot) is knot


def test_a_crack_that_a_person_drew_needs_no_score():
    drawn = replace(ON_ONE, score=None)
    assert scored_by_both_faces(drawn) is drawn
