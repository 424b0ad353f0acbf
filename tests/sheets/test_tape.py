"""Hooking the tape on boards whose ends are not square."""

import math
from dataclasses import replace

import pytest
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.sheets.tape import corner_at_a, hooked_edge, running_mm, tape_text
from tests.common import ash_board, plain_board, walnut_board


def with_outline(board, points):
    face = replace(board.faces[1], outline=Polygon(points))
    return replace(board, faces={1: face, 2: face})


def test_a_square_board_is_hooked_at_the_near_edge_and_reads_x():
    board = plain_board()
    edge = hooked_edge(board)
    assert edge.name == "near" and edge.is_square
    assert running_mm(board, edge, 785.0) == pytest.approx(785.0)
    assert tape_text(edge) == "Hook the tape at end A on the near edge."


def test_on_a_slanting_end_the_tape_reads_from_its_own_corner():
    board = with_outline(plain_board(), [(0, 0), (2000, 0), (2000, 200), (30, 200)])
    edge = hooked_edge(board)
    assert edge.corner == (30.0, 200.0)
    assert running_mm(board, edge, 1030.0) == pytest.approx(1000.0)
    assert "its far corner lies 30 mm further out" in tape_text(edge)
    assert "1 3/16 in further out" in tape_text(edge, "inch")


def test_the_far_edge_is_taken_where_the_near_one_has_wane():
    wane = Flaw("F1", FlawKind.WANE, {1: Polygon([(0, 180), (900, 180), (900, 203), (0, 203)])})
    assert hooked_edge(replace(plain_board(), flaws=(wane,))).name == "far"


def test_the_straighter_edge_is_taken_where_it_is_clearly_straighter():
    bent = [(x, 200 - 12 * math.sin(math.pi * x / 2400)) for x in range(2400, -1, -100)]
    board = with_outline(plain_board(), [(0, 0), (2400, 0), *bent])
    assert hooked_edge(board).name == "far"


def test_the_tape_lies_straight_however_rough_the_edge():
    rough = [(x, 200 + (x % 20) / 20) for x in range(2400, -1, -10)]
    board = with_outline(plain_board(), [(0, 0), (2400, 0), *rough])
    edge = replace(hooked_edge(board), name="near", corner=(0.0, 200.0))
    assert running_mm(board, edge, 2000.0) == pytest.approx(2000.0, abs=0.01)


@pytest.mark.parametrize("board", [ash_board(), walnut_board()], ids=lambda b: b.id)
def test_corners_of_end_a_are_found(board):
    outline = board.faces[1].outline
    near, far = corner_at_a(outline, "near"), corner_at_a(outline, "far")
    assert far == (0.0, 0.0)
    assert near in {(6.0, 186.0), (4.0, 236.0)}
