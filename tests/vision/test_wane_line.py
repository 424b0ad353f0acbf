"""The line that the saw cut, where wane has taken most of an edge."""

import numpy as np
import pytest

from scanner.geometry.polygons import union_of
from scanner.vision.outline import several
from scanner.vision.outline.face_map import FaceMap
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.side import Side, Sides, board_ends
from scanner.vision.outline.wane import Past, lost_beside, sawn_line
from scanner.vision.photos.picture import FacePicture

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


def past(wide_mm, *, hidden_mm: float = 0.0) -> Past:
    return Past(wide_mm, wide_mm, wide_mm + hidden_mm)


def test_wane_that_shows_tells_the_saws_line_where_it_takes_nearly_all_of_an_edge():
    edge = with_wane(300.0)
    wide = np.maximum(SAWN - edge[:, 1], 0.0)
    line = sawn_line(edge, +1, UPPER, past(wide))
    assert np.abs(line - SAWN).max() < 1.5
    assert np.abs(sawn_line(edge, +1, UPPER) - SAWN).max() > 5.0


def test_no_wane_lies_where_the_board_is_not_seen():
    edge = with_wane(1400.0)
    wide = np.where(X > 2000.0, 3.0, SAWN - edge[:, 1])
    lost = lost_beside(edge, +1, UPPER, past(wide))
    whole, seen = union_of([one.whole for one in lost]), union_of([one.seen for one in lost])
    assert all(one.is_wane for one in lost)
    assert seen.within(whole.buffer(0.01))
    deep = whole.difference(seen)
    assert deep.bounds[0] == pytest.approx(2000.0, abs=8.0)
    assert deep.area > 0.15 * whole.area
    # Turned away, it may slope off out of sight.
    out_of_sight = lost_beside(edge, +1, UPPER, past(wide, hidden_mm=20.0))
    assert union_of([one.seen for one in out_of_sight]).area == pytest.approx(whole.area, rel=0.02)


def test_an_arris_that_leaves_the_saws_line_is_no_wane_where_none_shows():
    (lost,) = lost_beside(with_wane(1400.0), +1, UPPER, past(0.0 * X))
    assert not lost.is_wane
    assert lost.whole.area > 7000.0


def test_shallow_wane_is_told_where_it_shows_and_a_wandering_edge_is_none():
    shallow = 3.0 * np.clip(1 - ((X - 900.0) / 120.0) ** 2, 0.0, None)
    edge = np.column_stack([X, SAWN - shallow])
    (lost,) = lost_beside(edge, +1, UPPER, past(shallow))
    assert lost.is_wane
    assert lost.seen.bounds[0] == pytest.approx(800.0, abs=15.0)
    assert lost_beside(edge, +1, UPPER, past(0.0 * X)) == ()


def test_wane_no_deeper_than_a_saw_wanders_is_told_only_where_much_of_it_shows():
    shallow = 2.3 * np.clip(1 - ((X - 900.0) / 120.0) ** 2, 0.0, None)
    edge = np.column_stack([X, SAWN - shallow])
    (lost,) = lost_beside(edge, +1, UPPER, past(1.2 * shallow))
    assert lost.is_wane
    assert lost.seen.bounds[0] == pytest.approx(815.0, abs=20.0)
    # A share that makes a deep stretch wane says nothing of one as shallow as this.
    assert lost_beside(edge, +1, UPPER, past(0.3 * shallow)) == ()
    assert lost_beside(edge, +1, UPPER) == ()


def test_wane_up_at_the_face_is_told_half_way_to_where_the_map_shows_it(monkeypatch):
    foot_mm, shown_mm = 1.0, np.array([0.5, 9.0])

    class Told:
        def lay(self, name):
            return None

        def wane_mm(self, name, arris_mm):
            return shown_mm

        def beyond(self, name, arris_mm):
            raise AssertionError

    seen = object.__new__(SeenSides)
    seen._sides = (Told(),)
    arris_mm = np.array([100.0, 100.0])
    monkeypatch.setattr(several, "board_ends", lambda side: arris_mm + foot_mm)
    told = seen.past("lower", arris_mm)
    assert told.least_mm == pytest.approx([1.0, 1.0])
    assert told.most_mm == pytest.approx([1.0, 5.0])


def side_of(edge_mm: float, foot_mm: float, *, hidden: int = 7) -> Side:
    """Return a side 40 columns long whose body shows to 80 mm, but for one column."""
    t = np.arange(0.0, 101.0)
    body = np.where(t[:-1, None] < edge_mm, 5.0, -5.0) * np.ones((1, 40))
    body[:, hidden] = -5.0
    flat = body.astype(np.float32)
    reach = np.full_like(t, foot_mm)
    none = np.zeros_like(flat)
    return Side(flat, flat, np.ones_like(flat), t, 4.0 * np.arange(40), reach, none, none)


def test_how_far_a_board_goes_is_told_by_its_foot_but_for_a_side_turned_away():
    assert board_ends(side_of(80.0, 0.0)) is None
    assert board_ends(side_of(80.0, 6.0)) == pytest.approx(np.full(40, 74.0))


def test_wane_past_an_arris_is_as_wide_as_the_map_tells():
    wane = np.full((180, 400), -5.0, np.float32)
    wane[90:99, 100:300] = 5.0
    wane[160:] = 5.0  # of another board
    face = np.full_like(wane, -5.0)
    face[20:90] = 5.0
    told = FaceMap(face, wane, np.maximum(face, wane), np.ones(wane.shape, bool), (1, 1), (0, 0))
    looks_from_above = FacePicture(
        np.zeros((180, 400, 3), np.uint8),
        1.0,
        (0.0, 0.0),
        0.001,
        0.5,
        np.ones(wane.shape, bool),
        (200.0, 59.5),
        0.02,
    )
    sides = Sides(told, looks_from_above)
    arris = np.full(100, 89.5)
    wide = sides.wane_mm("lower", arris)
    assert wide[30:70] == pytest.approx(9.0, abs=0.1)
    assert wide[:20] == pytest.approx(0.0)
    assert sides.wane_mm("lower", arris + 4.0)[30:70] == pytest.approx(5.0, abs=0.1)
    # The camera stands 30 mm further in than the arris; from further out it sees the side.
    assert sides.hides_mm("lower", arris) == pytest.approx(0.02 * 30.0)
    assert sides.hides_mm("lower", arris - 40.0) == pytest.approx(0.0)


def test_wane_that_runs_out_slowly_does_not_draw_the_saws_line_in():
    shallow = 7.0 * np.exp(-(((X - 1500.0) / 450.0) ** 2))
    edge = np.column_stack([X, SAWN - shallow + 0.2 * np.sin(X / 70.0)])
    assert np.abs(sawn_line(edge, +1, UPPER) - SAWN).max() < 0.7
