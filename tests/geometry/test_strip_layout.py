import numpy as np
import pytest

from scanner.geometry import strip_layout
from scanner.geometry.strip_layout import (
    ARM_ORIGIN_MM,
    centre_mm,
    corners_mm,
    id_of,
    joints_before,
    piece_length_mm,
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


def test_an_id_below_or_beyond_its_reference_is_none():
    assert position_of(-1) is None
    assert [position_of(n).reference for n in (99, 100, 199, 200, 205, 206, 211)] == [
        "A", "B", "B", "arm", "arm", "arm2", "arm2",
    ]  # fmt: skip
    for reference, number in (("A", -1), ("A", 100), ("arm", 6)):
        with pytest.raises(ValueError, match="has markers 0 to"):
            id_of(reference, number)
    with pytest.raises(ValueError, match="arm has markers 0 to 5, got 6"):
        id_of("arm", 6)


def test_the_corners_of_a_marker_run_clockwise_as_printed():
    assert corners_mm(0) == pytest.approx(np.array([[7, 18], [43, 18], [43, -18], [7, -18]]))


def test_a_joint_counts_from_its_own_line_on():
    # Exactly on the line the piece before still holds.
    at = np.array([-5.0, 0.0, 250.0, 250.001, 500.0, 300.0])
    assert list(joints_before(at, 250.0)) == [0, 0, 0, 1, 1, 1]
    assert list(joints_before(np.array([149.0, 151.0]), piece_length_mm("arm"))) == [0, 1]


def test_pieces_of_strip_and_arm_have_their_lengths():
    assert [piece_length_mm(name) for name in ("A", "B", "arm", "arm2")] == [250, 250, 150, 150]


@pytest.mark.parametrize(("length", "pieces"), [(250, 1), (250.1, 2), (4999.9, 20)])
def test_a_piece_more_is_made_as_soon_as_it_is_needed(length, pieces):
    assert pieces_for(length) == pieces


def test_too_long_a_strip_says_how_long_one_may_be():
    with pytest.raises(ValueError, match="1 to 20 pieces of 250 mm, got 5001 mm"):
        pieces_for(5001)


def test_printed_sheets_keep_the_sizes_that_strips_in_use_have():
    """Strips that people printed and glued last: a changed size would measure them wrong."""
    assert (strip_layout.MARKER_MM, strip_layout.PITCH_MM, strip_layout.PIECE_MM) == (36, 50, 250)
    assert strip_layout.MODULE_MM * 6 == strip_layout.MARKER_MM
    assert strip_layout.MARKERS_PER_PIECE * strip_layout.PITCH_MM == strip_layout.PIECE_MM
    assert (strip_layout.STRIP_WIDTH_MM, strip_layout.GRADUATION_BAND_MM) == (60, 6)
    assert strip_layout.TAB_MM == 8
    assert strip_layout.ARM_AXIS_X_MM == strip_layout.STRIP_WIDTH_MM / 2
    assert strip_layout.ARM_ORIGIN_MM == (30, 30)
    assert strip_layout.CARD_MM == (124, 60)
    assert (strip_layout.CARD_MARKER_MM, strip_layout.CARD_MARKER_X_MM) == (42, 27)
