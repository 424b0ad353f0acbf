"""Polygons survive being crossed, empty and turned over."""

import numpy as np
import pytest
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import (
    iou,
    largest_polygon,
    mirrored,
    points_of,
    polygon_of,
    union_of,
    writing_room,
)


def test_the_largest_piece_of_anything_is_kept():
    small, large = box(0, 0, 1, 1), box(5, 5, 9, 9)
    assert largest_polygon(small) == small
    assert largest_polygon(MultiPolygon([large, small])) == large
    nested = MultiPolygon([small, large]).union(LineString([(20, 0), (30, 0)]))
    assert nested.geom_type == "GeometryCollection"
    assert largest_polygon(nested) == large
    assert largest_polygon(Point(1, 1)).is_empty


def test_points_make_a_valid_polygon_or_an_empty_one():
    assert polygon_of([(0, 0), (4, 0), (4, 3)]).area == pytest.approx(6.0)
    assert polygon_of([(0, 0), (4, 0)]).is_empty
    assert polygon_of([]).is_empty
    # A bow tie: its halves are triangles of 5.7 and of 10 x 7.14 / 2, the larger one is kept.
    tie = polygon_of([(0, 0), (10, 10), (10, 0), (0, 4)])
    assert tie.is_valid
    assert tie.area == pytest.approx(10 * (10 - 20 / 7) / 2)


def test_a_ring_is_given_to_a_hundredth_without_its_last_point():
    triangle = Polygon([(0.004, 0.006), (10.126, 0), (10, 5.557)])
    assert points_of(triangle) == [[0.0, 0.01], [10.13, 0.0], [10.0, 5.56]]
    assert points_of(Polygon()) == []


def test_overlap_is_a_share_of_the_union():
    assert iou(box(0, 0, 2, 1), box(1, 0, 3, 1)) == pytest.approx(1 / 3)
    assert iou(box(0, 0, 1, 1), box(5, 5, 6, 6)) == 0.0
    assert iou(box(0, 0, 0.5, 0.5), box(0, 0, 0.5, 0.5)) == pytest.approx(1.0)
    assert iou(Polygon(), Polygon()) == 0.0


def test_a_union_of_nothing_is_empty():
    assert union_of([]).is_empty
    assert union_of([box(0, 0, 1, 1), box(1, 0, 2, 1)]).area == pytest.approx(2.0)


def test_face_2_is_turned_over_by_its_length_or_by_its_width():
    corner = box(10, 20, 40, 25)
    assert mirrored(corner, "sideways", 1000.0, 200.0).bounds == pytest.approx((10, 175, 40, 180))
    assert mirrored(corner, "end_over_end", 1000.0, 200.0).bounds == pytest.approx(
        (960, 20, 990, 25)
    )


def test_a_picture_s_first_pixel_lies_at_its_origin():
    at = face_from_picture(np.array([[0.0, 0.0], [10.0, 4.0]]), (-20.0, 5.0), 0.5)
    assert at == pytest.approx(np.array([[-20.0, 5.0], [-15.0, 7.0]]))


def test_there_is_room_to_write_in_a_wedge():
    """By hand: in the wedge a box 5 times as long as high ends at 5 / 9 of its length."""
    wedge = Polygon([(0, 0), (400, 0), (0, 100)])
    room = writing_room(wedge)
    assert wedge.buffer(0.01).covers(room)
    assert room.bounds[3] == pytest.approx(100 * 4 / 9, abs=5)


@pytest.mark.parametrize(
    ("shape", "room"),
    [
        (box(0, 0, 24, 240), (1, 0, 23, 240)),
        (box(100, 50, 124, 290), (101, 50, 123, 290)),
        # So small that a millimetre would be large.
        (box(0, 0, 2.4, 0.5), (0.1, 0, 2.3, 0.5)),
        # A slit in the upper half on the left: the lower half runs through and is the larger.
        (box(0, 0, 240, 100).difference(box(-1, 30, 120, 50)), (10, 50, 230, 100)),
        # A slit at the right, lower down, leaves a belt between the two.
        (
            box(0, 0, 240, 100).difference(box(-1, -1, 60, 30)).difference(box(180, 80, 241, 101)),
            (10, 30, 230, 80),
        ),
    ],
)
def test_a_word_has_most_room_where_a_shape_is_long_and_high(shape, room):
    assert writing_room(shape).bounds == pytest.approx(room)
