"""The measures of a face's outline, on outlines whose measures are known."""

import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from scanner.board.reading import (
    edge_points_mm,
    length_mm,
    mid_line,
    span_along_y_mm,
    spans_along_y_mm,
    width_mm,
)

# Ends that are not square: both slant by 15 mm, so the mid-width line is as long as the edges.
SLANTED = Polygon([(0, 0), (1000, 0), (1015, 150), (15, 150)])


def test_a_width_is_measured_along_y_and_outside_there_is_none():
    assert span_along_y_mm(SLANTED, 500) == (0, 150)
    assert width_mm(SLANTED, 7.5) == pytest.approx(75)
    assert span_along_y_mm(SLANTED, -1) is None and width_mm(SLANTED, 1016) == 0.0


@pytest.mark.parametrize("turn_deg", [0.0, 1.0, -1.0])
def test_the_length_is_that_of_the_mid_width_line_however_the_board_lies(turn_deg):
    turned = affinity.rotate(SLANTED, turn_deg, origin=(500, 75))
    assert length_mm(turned) == pytest.approx(1000, abs=0.6)
    (x0, y0), (x1, y1) = mid_line(turned)
    assert x0 < x1
    assert math.degrees(math.atan2(y1 - y0, x1 - x0)) == pytest.approx(turn_deg, abs=0.05)


def test_the_mid_line_runs_through_the_middle_of_an_end_that_wane_narrows():
    # The wane is widest near end A and narrower at the end itself.
    face = Polygon([(0, 0), (1000, 0), (1000, 150), (300, 150), (60, 128), (0, 140)])
    a, b = mid_line(face)
    assert a == pytest.approx((0, 70)) and b == pytest.approx((1000, 75))
    # Worn by half a centimetre, a corner tells hardly less.
    worn = face.difference(Polygon([(0, 0), (5, 0), (0, 5)]))
    assert mid_line(worn)[0] == pytest.approx((0, 70), abs=1.5)


def test_points_on_an_edge_keep_clear_of_the_ends_and_skip_gaps():
    upper, lower = edge_points_mm(SLANTED, "upper"), edge_points_mm(SLANTED, "lower")
    assert (upper[:, 1] == 0).all() and (lower[:, 1] == 150).all()
    assert upper[0, 0] >= 0.03 * 1015 and upper[-1, 0] <= 0.97 * 1015
    # Two pieces with nothing between them: no point where there is no wood.
    apart = box(0, 0, 300, 100).union(box(700, 0, 1000, 100))
    points = edge_points_mm(apart, "upper")
    assert not ((points[:, 0] > 300) & (points[:, 0] < 700)).any() and len(points) > 20


def test_the_edges_at_many_places_are_those_that_a_line_across_cuts():
    shape = Polygon([(0, 5), (300, 0), (300, 20), (1000, 30), (1000, 140), (500, 150), (0, 150)])
    x = np.array([-1.0, 0.0, 100.0, 300.0, 650.0, 1000.0, 1001.0])
    spans = spans_along_y_mm(shape, x)
    assert np.isnan(spans[[0, -1]]).all()
    for at, span in zip(x[1:-1], spans[1:-1], strict=True):
        cut = shape.intersection(LineString([(at, -10), (at, 200)])).bounds
        assert span == pytest.approx([cut[1], cut[3]])
