"""A face photographed once more lies again where it lay, whichever way round it was laid."""

from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.board import Face
from scanner.board.lay_again import lay_again, seen_with_end_a_left
from scanner.errors import BoardError
from tests.board.two_faces import FACE, knot, reading
from tests.common import plain_board

KNOTS = (knot(400, 60), knot(1210, 130, 20))


@pytest.fixture
def board():
    back = FACE.buffer(-1.5, join_style="mitre")
    flaws = tuple(replace(k, id=f"F{i}", outlines={1: k.outlines[1]}) for i, k in enumerate(KNOTS))
    return replace(
        plain_board("B01", 1812.0, 190.0),
        faces={1: Face(outline=FACE), 2: Face(outline=back)},
        flaws=flaws,
    )


def turned_round(shape):
    _, _, length, width = FACE.bounds
    return affinity.affine_transform(shape, (-1, 0, 0, -1, length, width))


@pytest.mark.parametrize("is_turned", [pytest.param(False, marks=pytest.mark.slow), True])
def test_points_of_the_new_photo_fall_where_they_lie_on_the_board(board, is_turned):
    move = turned_round if is_turned else (lambda shape: shape)
    again = reading(
        move(FACE),
        tuple(replace(k, outlines={1: move(k.outlines[1])}) for k in KNOTS),
    )
    laid = lay_again(board, again)
    assert laid.face == 1 and laid.is_clear
    # `reading` lays the outline's corner to (0, 0); FACE has it there already.
    for k in KNOTS:
        there = affinity.affine_transform(move(k.outlines[1]), laid.known_from_new)
        assert there.centroid.distance(k.outlines[1].centroid) < 0.5


def test_a_scale_that_is_a_little_off_is_taken_out(board):
    again = reading(affinity.scale(FACE, 1.002, 1.0, origin=(0, 0)))
    a, *_ = lay_again(board, again, face=1).known_from_new
    assert a == pytest.approx(1 / 1.002, abs=2e-4)


def test_the_back_is_told_from_the_front_by_its_outline(board):
    seen = seen_with_end_a_left(board, 2, board.faces[2].outline)
    assert lay_again(board, reading(seen)).face == 2


def test_another_board_is_refused(board):
    with pytest.raises(BoardError, match="does not seem to show B01"):
        lay_again(board, reading(Polygon([(0, 0), (900, 0), (900, 120), (0, 120)])))
