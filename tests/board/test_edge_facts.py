"""What an edge says of a board."""

import math
from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.board import Board, Face, Station
from scanner.board.edge_facts import EdgeFacts, ThicknessStation, with_edge
from scanner.board.measured import Measured
from scanner.files.board_file import board_from_text, board_json
from scanner.placement.finish.assemble import assemble
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import refusal_of
from scanner.placement.rules.thickness import flattened_mm
from scanner.placement.shop import Shop
from scanner.placement.validator.judge import validate_layout

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
    # 3.5 and 1.5 degrees.
    assert edge([27.0], slope=2.0, u=1.5).steepest_one_in == pytest.approx(16.35, abs=0.01)
    assert edge([27.0], slope=-1.0, u=0.5).steepest_one_in == pytest.approx(38.19, abs=0.01)


def test_an_edge_without_lines_says_nothing_of_straight_grain():
    assert edge([27.0]).steepest_one_in is None


@pytest.mark.parametrize(("asked", "fits"), [("1 in 12", True), ("1 in 20", False), (None, True)])
def test_the_slope_on_an_edge_rules_parts_in_or_out_of_its_board(asked, fits):
    """Search and judge alike, and as a file keeps it: 3.0 +/- 0.6 degrees is 1 in 15.9 at worst."""
    at = tuple(Station(200.0 * n, Measured(150.0, 1.0)) for n in range(5))
    known = with_edge(replace(BOARD, widths=at), edge([27.0], slope=-3.0, u=0.6))
    known = board_from_text(board_json(known), "B01")
    part = Part("leg", 1, 300.0, 60.0, 20.0, Faces.HIDDEN, straight_grain=asked)
    assert (refusal_of(known, part, Shop()) is None) == fits
    boards, parts = (replace(known, slope_one_in=None),), (part,)
    placed = Placement("leg", 1, "B01", 300.0, 40.0, 325.0, 72.0)
    layout = assemble(boards, parts, Shop(), (placed,), 1, 1, is_final=True, is_quick=True)
    said = validate_layout(layout, (known,), parts, Shop())
    assert (not [one for one in said if "may slope more" in str(one)]) == fits


def test_of_two_edges_the_steeper_counts_and_none_is_forgotten():
    flat = with_edge(BOARD, edge([27.0], slope=1.0, u=0.2))
    steep = with_edge(flat, edge([27.0], slope=4.0, u=0.2))
    assert with_edge(steep, edge([27.0], slope=1.0, u=0.2)).slope_one_in == steep.slope_one_in
    assert steep.slope_one_in < flat.slope_one_in
    assert with_edge(steep, edge([27.0])).slope_one_in == steep.slope_one_in
