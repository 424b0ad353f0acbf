"""A piece cut out of a board keeps what lies in it."""

from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from scanner.board.flaw import Flaw, FlawKind
from scanner.board.form import Warp
from scanner.board.piece import cut_out
from tests.common import ash_board, plain_board

IN = 25.4


def test_a_piece_has_its_own_frame_and_only_its_own_flaws():
    board = ash_board()
    knot = next(flaw for flaw in board.flaws if flaw.kind is FlawKind.KNOT)
    face = min(knot.outlines)
    x0, _, x1, _ = knot.outlines[face].bounds
    corner, size = (x0 - 100.0, 20.0), (x1 - x0 + 200.0, 140.0)
    piece = cut_out(board, "B01-rest", corner, size)
    assert piece.faces[1].outline.bounds == pytest.approx((0, 0, *size), abs=1e-6)
    kept = next(flaw for flaw in piece.flaws if flaw.id == knot.id)
    inside = knot.outlines[face].intersection(
        box(*corner, corner[0] + size[0], corner[1] + size[1])
    )
    assert kept.outlines[face].area == pytest.approx(inside.area)
    assert kept.outlines[face].bounds[0] == pytest.approx(100.0)
    assert len(piece.flaws) < len(board.flaws)
    assert not any(end.looked_over for end in piece.ends.values())
    assert piece.notes == ("left over from B01",)


@pytest.mark.parametrize(("length", "quality"), [(500.0, "good"), (150.0, "rough")])
def test_a_piece_sawn_to_a_line_is_as_good_as_its_own_sizes_are_known(length, quality):
    board = replace(ash_board(), quality="rough")
    assert cut_out(board, "B01-rest", (300.0, 20.0), (length, 140.0)).quality == quality


def test_the_piece_bends_as_the_square_of_its_length():
    # W-1 (sagitta): 1/2 in of bow in 96 in leaves 0.03125 in over 24 in.
    board = replace(
        plain_board(length_mm=96 * IN, width_mm=8 * IN),
        warp=Warp(bow_mm=0.5 * IN, twist_mm=0.75 * IN),
    )
    piece = cut_out(board, "P01-rest", (0, 0), (24 * IN, 4 * IN))
    assert piece.warp.bow_mm / IN == pytest.approx(0.03125, abs=0.0005)
    # W-4: twist goes with length times width.
    assert piece.warp.twist_mm / IN == pytest.approx(0.09375, abs=0.0005)


def test_where_no_wood_is_no_piece_is_cut():
    with pytest.raises(ValueError, match="no wood"):
        cut_out(plain_board(), "P01-rest", (9000.0, 0.0), (100.0, 50.0))


def test_a_bent_flaw_that_is_cut_in_two_is_not_lost_in_part():
    # A U open to end A: below its bottom both legs reach into the piece.
    bent = Polygon([(100, 20), (200, 20), (200, 80), (100, 80), (100, 70), (190, 70), (190, 28),
                    (100, 28)])  # fmt: skip
    board = plain_board(length_mm=600, width_mm=120)
    board = board.with_flaws((Flaw(id="F1", kind=FlawKind.CHECK, outlines={1: bent}),))
    (kept,) = cut_out(board, "P01-rest", (0, 0), (180, 120)).flaws
    assert kept.outlines[1].covers(box(100, 20, 180, 28))
    assert kept.outlines[1].covers(box(100, 70, 180, 80))
