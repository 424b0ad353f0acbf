"""Pieces laid together: where their wood comes from, flipped, turned, in another order."""

import numpy as np
import pytest

from scanner.board.assembly import (
    Assembly,
    Lie,
    Member,
    flipped,
    in_order,
    laid_as,
    lie_of,
    shimmer_agrees,
    turned,
)


def member(**changes):
    given = {
        "part": "top", "copy": 1, "stave": 1, "board": "B01",
        "corner_mm": (100.0, 20.0), "size_mm": (300.0, 60.0),
    }  # fmt: skip
    return Member(**(given | changes))


def board_point(one, u, v):
    a, b, c, d, e, f = one.board_from_piece()
    return (a * u + b * v + c, d * u + e * v + f)


def test_a_piece_as_placed_shows_its_own_corner_first():
    assert board_point(member(), 0, 0) == (100.0, 20.0)
    assert board_point(member(), 300, 60) == (400.0, 80.0)


def test_a_flipped_piece_keeps_its_ends_and_swaps_its_edges():
    other = flipped(member())
    assert board_point(other, 0, 0) == (100.0, 80.0)
    assert board_point(other, 300, 0) == (400.0, 80.0)


def test_a_piece_turned_end_for_end_begins_at_its_far_corner():
    assert board_point(turned(member()), 0, 0) == (400.0, 80.0)


def test_flipping_and_turning_twice_changes_nothing():
    assert flipped(flipped(member())) == member()
    assert turned(turned(member())) == member()


def test_flip_and_turn_keep_lengths():
    for one in (member(angle_deg=7.0), flipped(turned(member(angle_deg=-5.0)))):
        corner = np.array(board_point(one, 0, 0))
        assert np.hypot(*(np.array(board_point(one, 300, 0)) - corner)) == pytest.approx(300)
        assert np.hypot(*(np.array(board_point(one, 0, 60)) - corner)) == pytest.approx(60)


def test_only_a_piece_that_shows_face_2_is_mirrored():
    def handedness(one):
        a, b, _, d, e, _ = one.board_from_piece()
        return a * e - b * d

    assert handedness(member()) > 0
    assert handedness(turned(member())) > 0
    assert handedness(flipped(member())) < 0


def test_a_face_that_may_not_show_is_refused():
    with pytest.raises(ValueError, match="face 2 of top 1, stave 1 may not show"):
        flipped(member(may_show=(1,)))


def test_glued_staves_touch_and_drawer_fronts_do_not():
    two = (member(), member(stave=2))
    assert Assembly("top", "edge_to_edge", two).size_mm == (300.0, 120.0)
    assert Assembly("fronts", "stacked", two).size_mm[1] > 120.0


def test_doors_stand_upright_side_by_side():
    places = Assembly("doors", "upright", (member(), member(stave=2))).places()
    assert [(p.width, p.height, p.upright) for p in places] == [(60.0, 300.0, True)] * 2
    assert places[1].x > 60.0


def test_neighbours_of_one_board_shimmer_alike_when_both_or_neither_are_turned():
    one, two = member(), member(stave=2)
    assert shimmer_agrees(Assembly("top", "edge_to_edge", (one, two)))
    assert not shimmer_agrees(Assembly("top", "edge_to_edge", (one, turned(two))))
    # Flipped about its length and turned end for end, a piece is turned about its short side.
    assert shimmer_agrees(Assembly("top", "edge_to_edge", (one, turned(flipped(two)))))


def test_nothing_is_said_of_the_shimmer_of_two_boards():
    pair = (member(), member(board="B02", stave=2))
    assert shimmer_agrees(Assembly("top", "edge_to_edge", pair)) is None


def test_an_order_must_name_every_member_once():
    top = Assembly("top", "edge_to_edge", (member(), member(stave=2)))
    assert [m.stave for m in in_order(top, (1, 0)).members] == [2, 1]
    with pytest.raises(ValueError, match="no order"):
        in_order(top, (0, 0))


def test_what_was_said_of_a_piece_holds_while_it_is_the_same_wood():
    top = Assembly("top", "edge_to_edge", (member(), member(stave=2, corner_mm=(100.0, 90.0))))
    said = [lie_of(turned(flipped(top.members[1])))]
    laid = laid_as(top, said).members
    assert laid[0] == top.members[0]
    assert (laid[1].face, laid[1].is_turned) == (2, True)
    moved = [Lie("B01", (400.0, 90.0), 2, True)]
    assert laid_as(top, moved) == top


def test_a_face_that_the_layout_settles_is_not_overruled():
    one = member(is_face_free=False)
    top = Assembly("top", "edge_to_edge", (one, member(stave=2)))
    assert laid_as(top, [lie_of(flipped(one))]).members[0].face == 1
