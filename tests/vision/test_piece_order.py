"""Strips whose pieces are glued otherwise than their names say."""

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError, SettingsError
from scanner.geometry.strip_layout import corners_mm
from scanner.vision.evidence.observations import LensPrior
from scanner.vision.evidence.seen import Seen, SeenMarkers
from scanner.vision.rule.marker_order import in_order
from scanner.vision.rule.piece_order import are_of_one_strip, doubts_of_order
from scanner.vision.scale import fit_scale, fit_seen
from scanner.vision.setup import Setup
from tests.vision.drawn import SIZE, camera, photo_of, shoot, strip_sheet

VIEW = camera(tilt_deg=30.0, distance=2200.0, aim=(1000.0, 100.0))


def _glued(order, turned=(), apart=()):
    """Return numbers and corners, px, of pieces (0 is the first) glued in an order.

    ``turned``: places whose piece is glued upside down; ``apart``: (place, mm) of wide joints.
    """
    numbers, corners = [], []
    for place, piece in enumerate(order):
        for number in range(5):
            there = corners_mm(number)
            if place in turned:
                there = np.array([250.0, 0.0]) - there
            moved = 250.0 * place + sum(mm for joint, mm in apart if place >= joint)
            there = there + np.array([moved, 0.0])
            seen = VIEW.project(np.column_stack([there, np.zeros(4)]))
            numbers.append(5 * piece + number)
            corners.append(seen + np.random.default_rng(number).normal(0, 0.2, (4, 2)))
    return np.array(numbers), np.array(corners)


def _said(*how, **also):
    numbers, corners = _glued(*how, **also)
    return doubts_of_order("strip A", numbers, corners, in_order(numbers, corners))


@pytest.mark.parametrize(
    ("order", "listed"),
    [
        ((0, 1, 2, 3, 4, 6, 7), "pieces 7 to 8 of strip A lie"),
        ((0, 1, 2, 3, 4, 8), "piece 9 of strip A lies"),
        ((0, 1, 3, 2, 4, 5, 6), "pieces 3 to 4 of strip A lie"),
        ((3, 4, 5, 0, 1, 2, 6, 7), "of strip A lie"),
    ],
    ids=["a piece left out", "a page left out", "two pieces exchanged", "two pages exchanged"],
)
def test_pieces_that_are_not_where_their_names_say_are_named(order, listed):
    (said,) = _said(order)
    assert listed in said
    assert "in the order of their names" in said


def test_a_piece_glued_upside_down_is_named():
    (said,) = _said(range(8), turned=(5,))
    assert said.startswith("piece 6 of strip A lies")


def test_pieces_far_beyond_a_wide_joint_are_named():
    (said,) = _said(range(8), apart=((6, 60.0),))
    assert said.startswith("pieces 7 to 8 of strip A lie")


def test_a_strip_glued_as_printed_has_no_piece_elsewhere():
    assert _said(range(8)) == ()
    numbers, corners = _glued(range(8))
    # A few markers half covered, and grain that reads as others.
    corners[[3, 17, 18, 30]] += np.array([30.0, 8.0])
    corners[[10, 11]] += np.array([0.0, 400.0])
    assert doubts_of_order("strip A", numbers, corners, in_order(numbers, corners)) == ()


def test_markers_along_one_line_are_of_one_strip_and_of_two_beside_each_other_are_not():
    _, corners = _glued(range(4))
    assert are_of_one_strip(corners)
    assert not are_of_one_strip(np.concatenate([corners, corners + np.array([0.0, 200.0])]))


@pytest.mark.parametrize(("taped_mm", "long"), [(1002.0, 4), (1259.0, 5)])
def test_a_strip_as_long_as_fewer_pieces_than_its_names_say_is_asked_about(taped_mm, long):
    numbers, corners = _glued(range(6))
    markers = SeenMarkers(numbers, corners, np.full(30, 0.2), None)
    seen = Seen("drawn.jpg", LensPrior(SIZE, 1250.0, 0.01, 8.0), markers=markers)
    setup = Setup(Measured(0.0, 0.2), strip_taped=Measured(taped_mm, 1.0))
    with pytest.raises(SettingsError, match=f"as long as {long} of its pieces.* number 6"):
        fit_seen((seen,), setup, "strip")


def test_a_strip_taped_in_inches_but_typed_without_their_unit_is_to_be_taped_again():
    numbers, corners = _glued(range(10))
    markers = SeenMarkers(numbers, corners, np.full(50, 0.2), None)
    seen = Seen("drawn.jpg", LensPrior(SIZE, 1250.0, 0.01, 8.0), markers=markers)
    setup = Setup(Measured(0.0, 0.2), strip_taped=Measured(98.5, 1.0))
    with pytest.raises(SettingsError, match=r"taped as 98\.5 mm, 96\.1 % less"):
        fit_seen((seen,), setup, "strip")


@pytest.mark.slow
def test_a_strip_with_a_piece_left_out_is_told_from_the_picture_and_spoils_no_length():
    view = camera(tilt_deg=20.0, distance=1500.0, aim=(750.0, 100.0))
    pixels = shoot(view, *strip_sheet((0, 1, 2, 3, 5, 6)))
    fit = fit_scale((photo_of(pixels),), Setup(Measured(0.0, 0.2)))
    (said,) = (doubt for doubt in fit.doubts if "elsewhere" in doubt)
    assert said.startswith("pieces 6 to 7 of strip A")
    ends = fit.face_from_photo(0, view.project(np.array([[60.0, 80, 0], [1440.0, 80, 0]])))
    error = np.linalg.norm(ends[1] - ends[0]) - 1380.0
    assert abs(error) <= fit.u_between(ends[0], ends[1])


@pytest.mark.slow
def test_a_page_printed_and_glued_in_twice_is_refused_as_that():
    view = camera(tilt_deg=20.0, distance=1500.0, aim=(750.0, 100.0))
    pixels = shoot(view, *strip_sheet((0, 1, 2, 1, 2, 3)))
    with pytest.raises(PhotoError, match="printed twice, and both were glued in"):
        fit_scale((photo_of(pixels),), Setup(Measured(0.0, 0.2)))
