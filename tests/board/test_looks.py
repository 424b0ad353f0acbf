import math

import pytest

from scanner.board.looks import Looks, aspects_apart, colour_apart, unlikeness

HEART = Looks(lab=(45, 7, 14), ring_mm=3.0, contrast=0.07, flat_share=0.6)


def test_a_board_is_no_way_unlike_itself():
    assert unlikeness(HEART, HEART) == 0


def test_likeness_goes_both_ways():
    other = Looks(lab=(48, 8, 12), ring_mm=4.5, contrast=0.05)
    assert unlikeness(HEART, other) == pytest.approx(unlikeness(other, HEART))


def test_the_nearer_colour_is_the_liker_board():
    near = Looks(lab=(46, 7, 14), ring_mm=3.0, contrast=0.07, flat_share=0.6)
    far = Looks(lab=(51, 7, 14), ring_mm=3.0, contrast=0.07, flat_share=0.6)
    assert unlikeness(HEART, near) < unlikeness(HEART, far)


def test_rings_count_by_their_share():
    # 3 to 6 mm is as far as 1.5 to 3 mm.
    wide, close = (Looks(ring_mm=mm) for mm in (6.0, 1.5))
    apart = [aspects_apart(HEART, other)["rings"] for other in (wide, close)]
    assert apart[0] == pytest.approx(apart[1])


def test_heartwood_is_held_against_heartwood():
    # A board of heart and sap beside one that is all sap of the same colour: the same wood.
    both = Looks(lab=(45, 7, 14), sap_lab=(70, 3, 18))
    assert aspects_apart(both, Looks(lab=(70, 3, 18)))["colour"] == 0
    assert aspects_apart(both, Looks(lab=(45, 7, 14), sap_lab=(60, 3, 18)))["colour"] == 0


def test_what_one_board_does_not_tell_brings_it_no_nearer():
    known = Looks(lab=(45.5, 7, 14), ring_mm=3.1, contrast=0.07, flat_share=0.6)
    untold = Looks(ring_mm=3.0, contrast=0.07, flat_share=0.6)
    assert unlikeness(HEART, known) < unlikeness(HEART, untold)


def test_boards_with_nothing_in_common_are_neither_like_nor_unlike():
    assert unlikeness(Looks(ring_mm=3.0), Looks(lab=(45, 7, 14))) is None
    assert unlikeness(Looks(), HEART) is None
    assert unlikeness(HEART, Looks(ring_mm=3.0), by=("colour",)) is None


def test_colours_differ_by_their_distance_in_the_colour_space():
    # ISO/CIE 11664-4: delta E is the straight distance.
    other = Looks(lab=(48, 7, 18))
    assert colour_apart(HEART, other) == pytest.approx(math.hypot(3, 4))
    assert colour_apart(HEART, Looks()) is None
