import numpy as np
import pytest

from scanner.geometry.strip_layout import (
    ARM_ORIGIN_MM,
    centre_mm,
    corners_mm,
    id_of,
    joints_before,
    pieces_for,
    position_of,
)


def test_every_id_tells_its_reference_and_number():
    for reference, count in (("A", 100), ("B", 100), ("arm", 6), ("arm2", 6)):
        for number in range(count):
            place = position_of(id_of(reference, number))
            assert (place.reference, place.number) == (reference, number)
    assert position_of(212) is None


def test_markers_stand_50_mm_apart_and_36_mm_wide():
    assert centre_mm(0) == 25.0
    assert centre_mm(49) == 2475.0
    corners = corners_mm(3)
    # Seen as printed the first corner is the top left one: smaller x, larger y.
    assert corners[0] == pytest.approx((157.0, 18.0))
    assert np.ptp(corners, axis=0) == pytest.approx((36.0, 36.0))


def test_the_arms_first_marker_edge_is_37_mm_from_the_strips_axis():
    assert ARM_ORIGIN_MM[1] + corners_mm(0)[:, 0].min() == pytest.approx(37.0)


def test_a_joint_lies_between_the_markers_of_two_pieces():
    assert list(joints_before(np.array([7.0, 243.0, 257.0, 493.0, 507.0]), 250.0)) == [
        0,
        0,
        1,
        1,
        2,
    ]


@pytest.mark.parametrize(("length", "pieces"), [(2500, 10), (3750, 15), (5000, 20), (1, 1)])
def test_a_strip_has_as_many_pieces_as_its_length_needs(length, pieces):
    assert pieces_for(length) == pieces


@pytest.mark.parametrize("length", [0, -1, 5001])
def test_a_strip_of_no_length_or_over_16_ft_is_refused(length):
    with pytest.raises(ValueError, match="pieces"):
        pieces_for(length)
