"""A floor that the learned map takes for the face is told by its own looks."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.outline import several
from scanner.vision.outline.face_map import FaceMap
from scanner.vision.outline.over_floor import trace_views
from scanner.vision.outline.own_floor import OwnFloor
from tests.vision.faces import PALE, PaintedFace

MARGIN_MM = 60.0


@pytest.fixture(scope="module")
def floor():
    """Return what a ground at 2 mm per pixel teaches of its floor."""
    ground = PaintedFace(length_mm=900.0, width_mm=150.0, mm_per_px=2.0, margin_mm=240.0)
    rule = ground.outline.buffer(-70.0)
    return OwnFloor.of(ground.picture(), ground.outline, rule)


def mapped(view):
    """Return a map that takes all the floor above the board, and none below, for face."""
    rows, columns = (round(n * view.mm_per_px) for n in view.seen.shape)
    y, x = np.mgrid[:rows, :columns] + 0.5
    on = (x > MARGIN_MM) & (x < columns - MARGIN_MM) & (y < rows - MARGIN_MM)
    odds = np.where(on, 5.0, -5.0).astype(np.float32)
    seen = np.ones((rows, columns), dtype=bool)
    return FaceMap(odds, -np.abs(odds), odds, seen, (1.0, 1.0), (0.25, 0.25))


def upper_mm(views, floor):
    _, traced = trace_views(views, floor, "ash.jpg")
    between = (traced.upper[:, 0] > 90) & (traced.upper[:, 0] < 270)
    return float(np.median(traced.upper[between, 1]))


def test_an_outline_over_the_floor_is_traced_anew(floor, monkeypatch):
    monkeypatch.setattr(several, "face_map", mapped)
    views = (PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM).picture(),)
    assert upper_mm(views, None) < 5.0
    assert upper_mm(views, floor) == pytest.approx(MARGIN_MM, abs=1.5)


def test_a_map_that_no_floor_contradicts_stands(floor, monkeypatch):
    """A board whose other half looks like neither floor nor located wood keeps that half."""
    monkeypatch.setattr(several, "face_map", mapped)
    face = PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM, floor=(112, 60, 40))
    assert upper_mm((face.picture(),), floor) < 5.0


def test_a_floor_like_the_wood_says_nothing():
    alike = PaintedFace(
        length_mm=900.0, width_mm=150.0, mm_per_px=2.0, margin_mm=240.0, wood=PALE, floor=PALE
    )
    told = OwnFloor.of(alike.picture(), alike.outline, alike.outline.buffer(-70.0))
    face = PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM, floor=PALE)
    assert told.share_within(face.picture(), face.outline) < 0.02


def test_a_ground_of_which_little_is_seen_teaches_nothing():
    ground = PaintedFace(length_mm=900.0, width_mm=150.0, mm_per_px=2.0, margin_mm=240.0)
    picture = ground.picture()
    near = replace(picture, seen=ground.mask(ground.outline.buffer(100.0)))
    assert OwnFloor.of(near, ground.outline, ground.outline.buffer(-70.0)) is None
