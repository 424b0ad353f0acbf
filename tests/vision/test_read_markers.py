"""Markers read at several sizes, and how long is looked where nothing reads as a marker."""

import cv2
import numpy as np

from scanner.vision import cv
from scanner.vision.rule import read_markers
from tests.vision.drawn import PX_PER_MM, strip_sheet


def _far_strip(mm_per_px):
    """Return a picture of a strip of 20 markers, so many mm a pixel."""
    sheet, _ = strip_sheet()
    share = 1 / (PX_PER_MM * mm_per_px)
    small = cv2.resize(sheet, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    picture = np.full((200, small.shape[1] + 120), 120, np.uint8)
    picture[80 : 80 + small.shape[0], 60 : 60 + small.shape[1]] = small
    return picture


def test_a_glance_reads_a_strip_whose_markers_are_too_small_for_half_size():
    picture = _far_strip(2.0)
    half = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    assert len(cv.markers_in(half)[0]) == 0
    read = read_markers.read_markers(picture, at_a_glance=True)
    assert len(read.ids) >= 12 and set(read.ids) <= set(range(20))


def test_where_no_size_shows_a_marker_a_glance_looks_once_at_full_size(monkeypatch):
    looks = []

    def seen(grey, *, quick=False, one_look=False):
        looks.append((grey.shape[0], quick, one_look))
        return np.zeros(0, dtype=np.int_), np.zeros((0, 4, 2))

    monkeypatch.setattr(read_markers, "markers_in", seen)
    floor = np.full((400, 600), 120, np.uint8)
    assert len(read_markers.read_markers(floor, at_a_glance=True).ids) == 0
    assert looks == [(200, True, True), (400, False, True), (100, True, False)]
    looks.clear()
    read_markers.read_markers(floor)
    assert looks == [(200, True, False), (400, False, False), (100, False, False)]
