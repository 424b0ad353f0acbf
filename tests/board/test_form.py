"""Warp: published sagitta values and worked cases.

Sagitta: answers on a trade site and a router forum, tolerance 0.001. W cases: the flat-arc
and exact formulas worked out in inches, tolerance 0.0005; definitions by the Wood Handbook.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.board.form import (
    bend_of_piece_mm,
    crook_mm,
    radius_mm,
    sagitta_mm,
    twist_of_piece_mm,
)

TOL = 0.0005


@pytest.mark.parametrize(
    ("chord", "sagitta", "radius"),
    [(80, 11, 78.2273), (48, 2.5, 116.45), (49, 3, 101.5417)],
)
def test_radius_of_a_published_arc(chord, sagitta, radius):
    assert radius_mm(chord, sagitta) == pytest.approx(radius, abs=0.001)
    assert sagitta_mm(chord, radius) == pytest.approx(sagitta, abs=0.001)


@pytest.mark.parametrize(
    ("case", "bend", "whole", "piece", "left"),
    [
        ("W-1", 0.5, 96, 48, 0.12499),
        ("W-1", 0.5, 96, 36, 0.07031),
        ("W-1", 0.5, 96, 24, 0.03125),
        ("W-1", 0.5, 96, 12, 0.00781),
        ("W-2", 0.75, 144, 72, 0.18748),
        ("W-2", 0.75, 144, 36, 0.04687),
        ("W-2", 0.75, 144, 24, 0.02083),
        ("W-3", 0.25, 10, 5, 0.06238),
        ("W-3", 0.25, 10, 10 / 3, 0.02772),
        ("W-3", 0.25, 10, 2.5, 0.01559),
        ("W-5", 0.5, 96, 24, 0.03125),
        ("W-5", 0.25, 10, 5, 0.0625),
    ],
)
def test_a_shorter_or_narrower_piece_keeps_its_share_of_the_bend(case, bend, whole, piece, left):
    assert bend_of_piece_mm(bend, whole, piece) == pytest.approx(left, abs=TOL)


def test_bow_96_in_half_an_inch_has_the_known_radius():
    assert radius_mm(96, 0.5) == pytest.approx(2304.25, abs=TOL)


def test_a_straight_strip_out_of_a_crooked_piece():
    # W-2: 8 in wide; 36 in long piece.
    assert 8 - 0.75 == 7.25
    assert 8 - bend_of_piece_mm(0.75, 144, 36) == pytest.approx(7.953, abs=TOL)


@pytest.mark.parametrize(
    ("case", "twist", "board", "piece", "left"),
    [("W-4", 0.75, (96, 8), (24, 4), 0.09375), ("W-5", 0.5, (96, 10), (24, 5), 0.0625)],
)
def test_twist_goes_with_length_and_with_width(case, twist, board, piece, left):
    assert twist_of_piece_mm(twist, board, piece) == pytest.approx(left, abs=TOL)


def test_three_bends_together_give_the_worked_bound():
    # W-5: the sum with half the twist bounds the loss of a flat slab.
    bow = bend_of_piece_mm(0.5, 96, 24)
    cup = bend_of_piece_mm(0.25, 10, 5)
    twist = twist_of_piece_mm(0.5, (96, 10), (24, 5))
    assert bow + cup + twist / 2 == pytest.approx(0.125, abs=TOL)


def test_hollow_stays_hollow_and_crowned_crowned():
    assert bend_of_piece_mm(-0.5, 96, 48) == -bend_of_piece_mm(0.5, 96, 48)
    assert bend_of_piece_mm(0.0, 96, 48) == 0.0


@given(st.floats(-math.pi, math.pi), st.floats(1.0, 30.0))
def test_turning_the_board_leaves_the_crook_alone(angle, sagitta):
    x = np.linspace(0, 2400, 41)
    edge = np.column_stack([x, sagitta * 4 * (x / 2400) * (1 - x / 2400)])
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    assert crook_mm(edge @ turn.T) == pytest.approx(sagitta, abs=1e-6)


def test_an_edge_of_one_point_is_a_programmer_s_mistake():
    with pytest.raises(ValueError):
        crook_mm(np.array([[0.0, 0.0]]))
    with pytest.raises(ValueError):
        sagitta_mm(10, 4)
    with pytest.raises(ValueError):
        radius_mm(10, 0)
