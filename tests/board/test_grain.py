"""The course of a board's grain: confirmed cracks first, else what both faces show."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.affinity import rotate
from shapely.geometry import box

from scanner.board.flaw import FlawKind, FlawState
from scanner.board.grain import course_deg, course_of_cracks_deg
from tests.instances.tiny import board, flaw


def crack(degrees: float, length: float = 100, state: FlawState = FlawState.CONFIRMED):
    """Return a check 3 mm wide at this angle."""
    shape = rotate(box(200, 50, 200 + length, 53), degrees, origin="center")
    return flaw("F1", FlawKind.CHECK, shape, state=state)


@pytest.mark.parametrize("degrees", [-12.0, 0.0, 5.0])
def test_a_check_shows_the_course(degrees):
    one = board("B1", 600, 200, crack(degrees))
    assert course_of_cracks_deg(one) == pytest.approx(degrees, abs=1e-6)


def test_a_long_check_says_more_than_a_short_one():
    """(150 x 2 + 50 x 6) / 200 = 3."""
    one = board("B1", 600, 200, crack(2.0, 150), replace(crack(6.0, 50), id="F2"))
    assert course_of_cracks_deg(one) == pytest.approx(3.0, abs=1e-6)


def test_only_a_crack_that_somebody_saw_and_that_is_long_enough_counts():
    for one in (crack(5, state=FlawState.POSSIBLE), crack(5, state=FlawState.STRUCK), crack(5, 30)):
        assert course_of_cracks_deg(board("B1", 600, 200, one)) is None


def test_faces_that_disagree_show_no_course():
    plain = board("B1", 600, 200)
    assert course_deg(plain, (1.0, 2.0)) == 1.5
    assert course_deg(plain, (3.0, None)) == 3.0
    assert course_deg(plain, (1.0, 6.0)) is None
    assert course_deg(plain, ()) is None
    assert course_deg(board("B1", 600, 200, crack(5.0)), (1.0, 2.0)) == pytest.approx(5.0)
