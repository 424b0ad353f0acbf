"""What was said of a board stays when it is scanned again."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.board.board import End
from scanner.board.carry_over import Moves, carry_over
from scanner.board.flaw import FlawState
from tests.common import ash_board, ellipse

SHIFT = (4.0, -2.0)


def _shift(places):
    return places + np.array(SHIFT)


def _turn(places):
    return np.array([2438.0, 180.0]) - places


MOVED = Moves({1: _shift, 2: _shift}, 0.4)


def _said(state):
    """Return the ash board with its first flaw in a state, and its face 1 looked over."""
    board = ash_board()
    first, *others = board.flaws
    faces = {**board.faces, 1: replace(board.faces[1], looked_over=True)}
    return replace(board, faces=faces, price=31.5).with_flaws(
        (replace(first, state=state), *others)
    )


def _scanned():
    """Return the same board as the new scan finds it: all of it moved, nothing said."""
    board = ash_board()
    moved = [
        replace(
            flaw,
            id=f"F{9 - n}",
            outlines={face: _at(one, SHIFT) for face, one in flaw.outlines.items()},
        )
        for n, flaw in enumerate(board.flaws)
    ]
    return board.with_flaws(tuple(moved))


def _at(outline, by):
    from shapely.affinity import translate

    return translate(outline, *by)


@pytest.mark.parametrize("state", [FlawState.CONFIRMED, FlawState.STRUCK, FlawState.ADDED])
def test_what_was_said_of_a_flaw_stays_and_moves_with_the_wood(state):
    old, new = _said(state), _scanned()
    carried = carry_over(old, new, MOVED).board
    (kept,) = [flaw for flaw in carried.flaws if flaw.state is state]
    before = old.flaws[0]
    assert kept.kind is before.kind and kept.sound is before.sound
    for face, outline in before.outlines.items():
        assert kept.outlines[face].symmetric_difference(_at(outline, SHIFT)).area < 1e-6
    # The new scan's own finding there is answered; the others are asked about.
    assert len(carried.flaws) == len(new.flaws)
    assert len({flaw.id for flaw in carried.flaws}) == len(carried.flaws)
    assert carried.price == 31.5


def test_a_flaw_that_the_new_scan_does_not_see_stays():
    old, new = _said(FlawState.ADDED), _scanned().with_flaws(())
    carried = carry_over(old, new, MOVED).board
    assert [flaw.state for flaw in carried.flaws] == [FlawState.ADDED]
    # Nothing new shows: the face stays looked over.
    assert carried.faces[1].looked_over


def test_what_reaches_beyond_the_flaw_that_was_said_is_asked_about():
    old, new = _said(FlawState.CONFIRMED), _scanned()
    first = new.flaws[0]
    wider = {face: outline.buffer(25) for face, outline in first.outlines.items()}
    new = new.with_flaws((replace(first, outlines=wider), *new.flaws[1:]))
    carried = carry_over(old, new, MOVED)
    assert len(carried.board.flaws) == len(new.flaws) + 1
    assert not carried.board.faces[1].looked_over
    assert any("Look over face 1 again" in line for line in carried.said)


def test_a_struck_flaw_that_shows_more_surely_now_is_asked_about_again():
    old, new = _said(FlawState.STRUCK), _scanned()
    first = new.flaws[0]
    surer = replace(first, score=min(1.0, (old.flaws[0].score or 0.0) + 0.2))
    low = replace(old.flaws[0], score=surer.score - 0.2)
    old = old.with_flaws((low, *old.flaws[1:]))
    carried = carry_over(old, new.with_flaws((surer, *new.flaws[1:])), MOVED).board
    assert len(carried.flaws) == len(new.flaws) + 1


def test_ends_change_places_with_the_board_turned():
    board = replace(ash_board(), ends={"A": End(True, 20.0), "B": End()})
    carried = carry_over(board, ash_board(), Moves({1: _turn})).board
    assert carried.ends == {"A": End(), "B": End(True, 20.0)}


def test_a_crack_moved_by_the_grain_stays_an_outline():
    old = _said(FlawState.ADDED)
    thin = replace(old.flaws[0], outlines={1: ellipse(600, 90, 300, 0.6)})
    wavy = Moves({1: lambda at: at + np.column_stack([0 * at[:, 0], np.sin(at[:, 0] / 9)])})
    (kept,) = carry_over(old.with_flaws((thin,)), _scanned().with_flaws(()), wavy).board.flaws
    assert kept.outlines[1].is_valid and kept.outlines[1].area > 0.5 * thin.outlines[1].area
