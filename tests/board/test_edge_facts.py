"""What an edge says of a board."""

import math

import pytest
from shapely.geometry import box

from scanner.board.board import Board, Face
from scanner.board.edge_facts import EdgeFacts, ThicknessStation, with_edge
from scanner.board.measured import Measured
from scanner.placement.rules.thickness import flattened_mm
from scanner.placement.shop import Shop

BOARD = Board(
    id="B01",
    species="white ash",
    thickness=Measured(27.0, 2.0),
    length=Measured(1000.0, 1.0),
    widths=(),
    faces={n: Face(outline=box(0, 0, 1000, 150)) for n in (1, 2)},
)


def edge(thicknesses, slope=None, u=None, *, is_confirmed=True):
    stations = tuple(
        ThicknessStation(200.0 * n, Measured(t, 0.9)) for n, t in enumerate(thicknesses)
    )
    return EdgeFacts(1000.0, stations, slope, u, is_confirmed)


def test_flattening_reckons_with_the_thinnest_place_of_an_edge():
    before = flattened_mm(BOARD, (500, 100), Shop())
    after = flattened_mm(with_edge(BOARD, edge([27.1, 26.8, 24.5, 26.0, 27.0])), (500, 100), Shop())
    assert before - after == pytest.approx(27.0 - 24.5)


def test_an_edge_nobody_confirmed_changes_no_board():
    with pytest.raises(ValueError, match="agreed"):
        with_edge(BOARD, edge([27.0], is_confirmed=False))


def test_an_edge_without_a_thickness_changes_no_board():
    with pytest.raises(ValueError, match="agreed"):
        with_edge(BOARD, edge([], slope=1.0, u=0.2))


def test_a_slope_with_its_doubt_is_told_as_one_in_so_many():
    # trade facts T9: 1 in 20 is 2.86 degrees.
    told = edge([27.0], slope=-math.degrees(math.atan(1 / 20)), u=0.0)
    assert told.steepest_one_in == pytest.approx(20.0)


def test_doubt_makes_a_slope_steeper():
    assert not edge([27.0], slope=2.0, u=1.5).allows(20)


def test_straight_grain_is_allowed_where_slope_and_doubt_are_small():
    assert edge([27.0], slope=1.0, u=0.5).allows(20)


def test_an_edge_without_lines_says_nothing_of_straight_grain():
    assert edge([27.0]).allows(20) is None
