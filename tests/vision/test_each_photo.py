"""What one photo tells alone keeps the figures of several photos honest."""

from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from scanner.board.board import Station
from scanner.board.measured import Measured
from scanner.board.reading import FaceReading
from scanner.vision.each_photo import held_against_each


def face(length, width, u_length=3.0, u_width=1.5):
    stations = tuple(Station(x, Measured(width, u_width)) for x in (100.0, 500.0, 900.0))
    return FaceReading(
        outline=box(0, 0, length, width),
        flaws=(),
        length=Measured(length, u_length),
        widths=stations,
        crook_mm=0.0,
        outline_u_mm=1.2,
    )


def test_photos_that_agree_change_nothing():
    shared = face(1000.0, 150.0)
    held, doubts = held_against_each(shared, [face(1003.0, 151.0, 5.0, 2.0)], ["a.jpg"])
    assert held == shared
    assert not doubts


def test_a_width_that_one_photo_tells_otherwise_is_wide_enough_for_it_and_said():
    held, doubts = held_against_each(
        face(1000.0, 150.0), [face(1000.0, 158.0), face(1000.0, 150.5)], ["a.jpg", "b.jpg"]
    )
    assert [station.width.u_mm for station in held.widths] == pytest.approx([8.0] * 3)
    # Parts keep that far from the arris.
    assert held.outline_u_mm == pytest.approx(8.0)
    assert len(doubts) == 1
    assert "a.jpg alone tells another width (8 mm)" in doubts[0]


def test_a_corner_that_one_photo_tells_otherwise_widens_the_margin_only_where_wood_may_be_missing():
    def cut_in(width_mm):
        """Return a face of 150 mm that is as wide as that over its last 40 mm, at a station."""
        plain = face(1000.0, 150.0)
        last = Station(980.0, Measured(width_mm, 1.5))
        ring = [(0, 0), (1000, 0), (1000, width_mm), (960, width_mm), (960, 150), (0, 150)]
        return replace(plain, outline=Polygon(ring), widths=(*plain.widths[:2], last))

    narrow, wide = cut_in(140.0), cut_in(150.0)
    held, doubts = held_against_each(narrow, [wide], ["a.jpg"])
    assert held.widths[-1].width.u_mm == pytest.approx(10.0)
    assert len(doubts) == 1
    assert held.outline_u_mm == narrow.outline_u_mm
    held, _ = held_against_each(wide, [narrow], ["a.jpg"])
    assert held.outline_u_mm == pytest.approx(10.0)


def test_a_length_that_one_photo_tells_otherwise_is_covered():
    held, doubts = held_against_each(face(1000.0, 150.0), [face(1012.0, 150.0)], ["a.jpg"])
    assert held.length.u_mm == pytest.approx(12.0)
    assert "another length" in doubts[0]


def test_a_photo_of_a_piece_of_the_board_is_no_witness():
    shared = face(1000.0, 150.0)
    assert held_against_each(shared, [face(700.0, 160.0)], ["a.jpg"]) == (shared, [])
