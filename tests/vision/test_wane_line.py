"""The line that the saw cut, where wane has taken most of an edge."""

import numpy as np
import pytest

from scanner.geometry.polygons import union_of
from scanner.vision.outline.side import Side, body_seen_to
from scanner.vision.outline.wane import lost_beside, sawn_line

X = np.arange(0.0, 2400.0, 4.0)
CROOK_MM, TAPER_MM, WIDE_MM = 7.0, 6.0, 150.0
BOW = CROOK_MM * (1 - (2 * X / X[-1] - 1) ** 2)
UPPER = np.column_stack([X, 60.0 + BOW])
SAWN = 60.0 + WIDE_MM + BOW - TAPER_MM * X / X[-1]


def with_wane(first_mm: float) -> np.ndarray:
    """Return a lower edge whose wane runs from a place on to the end, its inner line in waves."""
    deep = np.where(first_mm < X, 9.0 + 3.0 * np.sin(X / 90.0), 0.0)
    wander = 0.6 * np.sin(X / 70.0)
    return np.column_stack([X, SAWN - deep + wander])


@pytest.mark.parametrize("first_mm", [1400.0, 1700.0])
def test_a_crooked_boards_other_edge_tells_the_saws_line_past_wane(first_mm):
    line = sawn_line(with_wane(first_mm), +1, UPPER)
    # One short stretch of the edge alone does not tell it.
    assert np.abs(line - SAWN).max() < 4.0
    assert np.abs(sawn_line(with_wane(first_mm), +1) - SAWN).max() > np.abs(line - SAWN).max()


def test_an_edge_opposite_that_is_not_straight_tells_nothing():
    edge = with_wane(1400.0)
    torn = np.column_stack([X, 60.0 + 12.0 * np.sin(X / 60.0)])
    assert sawn_line(edge, +1, torn) == pytest.approx(sawn_line(edge, +1))


def test_no_wane_lies_where_the_board_is_not_seen():
    edge = with_wane(1400.0)
    seen_to = np.where(X > 2000.0, edge[:, 1] + 3.0, 300.0)
    lost = lost_beside(edge, +1, UPPER, seen_to)
    whole, seen = union_of([one.whole for one in lost]), union_of([one.seen for one in lost])
    assert seen.within(whole.buffer(0.01))
    deep = whole.difference(seen)
    assert deep.bounds[0] == pytest.approx(2000.0, abs=8.0)
    assert deep.area > 0.15 * whole.area


def test_a_side_that_is_turned_away_does_not_tell_how_far_the_board_goes():
    t = np.arange(0.0, 101.0)
    body = np.where(t[:-1, None] < 80.0, 5.0, -5.0) * np.ones((1, 40))
    body[:, 7] = -5.0
    flat = body.astype(np.float32)

    def side(reach_mm: float) -> Side:
        across = 4.0 * np.arange(40)
        return Side(flat, flat, np.ones_like(flat), t, across, np.full_like(t, reach_mm))

    assert body_seen_to(side(0.0)) is None
    assert body_seen_to(side(1.0)) == pytest.approx(np.full(40, 80.0))
