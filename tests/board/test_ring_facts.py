"""What rings on an end say of a board."""

import pytest

from scanner.board.ring_facts import RingFacts, RingStation, angle_to_face_deg


def facts(angles, heart=2, pith=(80.0, 120.0), u=4.0):
    stations = tuple(RingStation(20.0 * (n + 1), angle, u, "+") for n, angle in enumerate(angles))
    return RingFacts("A", 120.0, 27.0, stations, pith, heart)


def test_a_flatsawn_board_goes_hollow_away_from_the_heart():
    # Cup side: a flatsawn board cups away from the heart, toward the bark side.
    assert facts([5, 3, 4, 8, 12]).hollow_face == 1


def test_a_heart_side_nobody_can_tell_makes_no_cup():
    assert facts([5, 3, 4, 8, 12], heart=None).hollow_face is None


@pytest.mark.parametrize(
    ("angle", "cut"), [(0, "flatsawn"), (29, "flatsawn"), (45, "rift"), (61, "quartersawn")]
)
def test_rings_are_named_by_their_angle_to_the_face(angle, cut):
    assert RingStation(0.0, angle, 3.0).cut == cut


def test_a_leg_is_found_where_rings_run_corner_to_corner():
    assert facts([10, 44, 46, 43, 80]).rift_zones(40.0) == ((40.0, 80.0),)


def test_a_leg_wider_than_the_rift_has_no_place():
    assert facts([10, 44, 46, 43, 80]).rift_zones(41.0) == ()


def test_doubt_of_the_ring_angle_counts_against_a_leg():
    assert facts([45, 45, 45, 45, 45], u=16.0).rift_zones(20.0) == ()


def test_pith_in_the_end_is_said():
    assert facts([10, 40, 90, 40, 10], pith=(60.0, 13.0)).has_pith_inside


def test_the_heart_face_of_flatsawn_wood_is_the_one_to_hide():
    assert facts([5, 3, 4, 8, 12]).hidden_face == 2


def test_quartersawn_wood_has_no_face_to_hide():
    assert facts([80, 75, 85, 80, 82]).hidden_face is None


def test_rings_growing_straight_into_the_board_lie_flat():
    assert angle_to_face_deg(0.0, 1.0) == 0.0


def test_rings_growing_across_the_board_stand_upright():
    assert angle_to_face_deg(-1.0, 0.0) == 90.0
