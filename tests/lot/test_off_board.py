"""A flaw drawn where there is no wood is told, and one at the rim is not."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.lot.off_board import flaws_on_wood, off_board_lines
from tests.common import ash_board, plain_board, walnut_board

AWAY, AT_THE_RIM, ON_IT = box(500, 240, 520, 260), box(500, 203.5, 520, 220), box(500, 90, 520, 99)


def with_flaws(*outlines, kind=FlawKind.KNOT, state=FlawState.CONFIRMED):
    flaws = tuple(
        Flaw(f"F{n}", kind, shapes, state=state, u_mm=1.0) for n, shapes in enumerate(outlines, 1)
    )
    return replace(plain_board(), flaws=flaws)


@pytest.mark.parametrize("kind", [FlawKind.KNOT, FlawKind.WANE])
def test_a_flaw_wholly_off_the_board_is_told_in_one_sentence(kind):
    (said,) = off_board_lines([with_flaws({1: AWAY}, kind=kind), plain_board()])
    assert said.startswith("F1 of P01 lies wholly off the board, so no part keeps off it")
    (said,) = off_board_lines([with_flaws({1: AWAY}, {2: AWAY}, {1: ON_IT}, kind=kind)])
    assert said.startswith("F1 and F2 of P01 lie wholly off the board, so no part keeps off them")


@pytest.mark.parametrize(
    "outlines", [{1: ON_IT}, {1: AT_THE_RIM}, {1: AWAY, 2: ON_IT}], ids=["on", "rim", "other face"]
)
def test_a_flaw_that_touches_the_wood_of_a_face_within_its_give_or_take_is_on_the_board(outlines):
    assert off_board_lines([with_flaws(outlines)]) == ()


def test_a_crack_said_to_reach_in_from_the_end_counts_wherever_it_is_drawn():
    board = with_flaws({1: box(-30, 90, -5, 92)}, kind=FlawKind.CHECK)
    assert len(off_board_lines([board])) == 1
    reaching = tuple(replace(flaw, reach_mm=60.0) for flaw in board.flaws)
    assert off_board_lines([replace(board, flaws=reaching)]) == ()


def test_a_struck_flaw_off_the_board_is_not_spoken_of():
    assert off_board_lines([with_flaws({1: AWAY}, state=FlawState.STRUCK)]) == ()


def test_wane_outside_the_flat_face_is_no_flaw_off_the_board():
    assert off_board_lines([ash_board(), walnut_board()]) == ()


def test_what_is_seen_on_a_face_leaves_out_what_is_drawn_off_it_there():
    board = with_flaws({1: AWAY, 2: ON_IT}, {1: ON_IT})
    assert [flaw.id for flaw in flaws_on_wood(board, 1)] == ["F2"]
    assert [flaw.id for flaw in flaws_on_wood(board, 2)] == ["F1"]
    struck = with_flaws({1: ON_IT}, state=FlawState.STRUCK)
    assert flaws_on_wood(struck, 1) == ()
