"""A floor that the learned map takes for the face is told by its own looks."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from scanner.vision.outline import several, trace
from scanner.vision.outline.face_map import FaceMap
from scanner.vision.outline.over_floor import MOST_FLOOR, ends_there, strays, trace_views
from scanner.vision.outline.own_floor import OwnFloor
from tests.vision.faces import PALE, PaintedFace

# Seconds each where faces are drawn.
pytestmark = pytest.mark.slow

MARGIN_MM = 60.0


@pytest.fixture(scope="module")
def floor():
    """Return what a ground at 2 mm per pixel teaches of its floor."""
    ground = PaintedFace(length_mm=900.0, width_mm=150.0, mm_per_px=2.0, margin_mm=240.0)
    rule = ground.outline.buffer(-70.0)
    return OwnFloor.of(ground.picture(), ground.outline, rule)


def mapped(view, over_mm=MARGIN_MM):
    """Return a map that takes the floor above the board, so far over it, for face; none below."""
    rows, columns = (round(n * view.mm_per_px) for n in view.seen.shape)
    y, x = np.mgrid[:rows, :columns] + 0.5
    on = (
        (x > MARGIN_MM)
        & (x < columns - MARGIN_MM)
        & (y < rows - MARGIN_MM)
        & (y > MARGIN_MM - over_mm)
    )
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


@pytest.mark.parametrize("board_columns", [0, 1, 8])
def test_an_outline_stays_where_all_or_nearly_all_of_it_looks_like_the_floor(
    board_columns, monkeypatch
):
    """Also where the board's lit side shows, whose steps in tone are looked for along a line."""

    def no_board(told, _view):
        face = np.full_like(told.face, -5.0)
        face[:, 120 : 120 + 4 * board_columns] = told.face[:, 120 : 120 + 4 * board_columns]
        return replace(told, face=face, body=face)

    monkeypatch.setattr(several, "face_map", lambda view: mapped(view, over_mm=0.0))
    picture = PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM).picture()
    view = replace(picture, foot_mm=(120.0, 900.0), side_share=0.02)
    floor_all_over = SimpleNamespace(against=no_board, share_within=lambda _view, _shape: 0.5)
    assert upper_mm((view,), floor_all_over) == pytest.approx(MARGIN_MM, abs=1.5)


def test_each_long_side_is_held_to_its_line_by_the_other_as_it_was_traced(monkeypatch):
    """Else a board turned round in its picture would get another outline."""
    seen, held = {}, trace._Ground.sawn

    def moving(ground, name, edge, u_mm, opposite, cut):
        seen[name] = (edge, opposite)
        edge, u_mm = held(ground, name, edge, u_mm, opposite, cut)
        return edge + np.array([0.0, 0.3]), u_mm

    monkeypatch.setattr(several, "face_map", lambda view: mapped(view, over_mm=0.0))
    monkeypatch.setattr(trace._Ground, "sawn", moving)
    picture = PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM).picture()
    trace_views((picture,), None, "ash.jpg")
    assert np.array_equal(seen["upper"][1], seen["lower"][0])
    assert np.array_equal(seen["lower"][1], seen["upper"][0])


def test_a_map_that_no_floor_contradicts_stands(floor, monkeypatch):
    """A board whose other half looks like neither floor nor located wood keeps that half."""
    monkeypatch.setattr(several, "face_map", mapped)
    face = PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM, floor=(112, 60, 40))
    assert upper_mm((face.picture(),), floor) < 5.0


def test_sapwood_that_looks_like_the_floor_stays_the_boards(floor, monkeypatch):
    """Its border wanders with the rings, and no saw went along it."""
    monkeypatch.setattr(several, "face_map", lambda view: mapped(view, over_mm=0.0))
    picture = PaintedFace(length_mm=400.0, width_mm=120.0, margin_mm=MARGIN_MM).picture()
    mm = picture.mm_per_px
    rows, columns = picture.seen.shape
    y, x = np.mgrid[:rows, :columns] * mm
    sap = (y > MARGIN_MM) & (y < MARGIN_MM + 25.0 + 12.0 * np.sin(x / 60.0))
    pixels = picture.pixels.copy()
    pixels[sap] = np.roll(picture.pixels, round(60.0 / mm), axis=0)[sap]
    view = replace(picture, pixels=pixels)
    true = PaintedFace(length_mm=400.0, width_mm=120.0, margin_mm=MARGIN_MM).outline
    assert floor.share_within(view, true) > MOST_FLOOR
    assert upper_mm((view,), floor) == pytest.approx(MARGIN_MM, abs=1.5)


@pytest.mark.parametrize(("from_mm", "leaves"), [(200.0, True), (1300.0, True), (1900.0, False)])
def test_a_side_that_leaves_its_own_line_for_a_part_of_it_strays(from_mm, leaves):
    x = np.arange(0.0, 2000.0, 4.0)
    saws = np.column_stack([x, 300.0 + 3.0 * np.sin(x / 640.0)])
    ends = {"left": np.zeros((2, 2)), "right": np.full((2, 2), 2000.0)}
    before = SimpleNamespace(upper=saws, lower=saws, **ends)
    into_sapwood = np.where(x > from_mm, 55.0 + 4.0 * np.sin(x / 70.0), 0.0)
    again = SimpleNamespace(upper=saws, lower=saws - np.outer(into_sapwood, [0.0, 1.0]), **ends)
    assert strays(again, before) is leaves
    assert not strays(before, again)


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


@pytest.mark.parametrize(
    ("traced_mm", "shown_mm", "is_end"),
    [
        (110.0, 0.0, True),  # where it was located, with floor past it
        (110.0, 105.0, False),  # the picture ends with the board
        (320.0, 0.0, False),  # traced at a shadow's border, far from where it was located
    ],
)
def test_a_doubtful_end_is_believed_where_floor_shows_past_it(traced_mm, shown_mm, is_end):
    picture = PaintedFace(length_mm=240.0, width_mm=120.0, margin_mm=MARGIN_MM).picture()
    seen = picture.seen.copy()
    seen[:, : round(shown_mm / picture.mm_per_px)] = False
    line = np.array([[traced_mm, 60.0], [traced_mm, 180.0]])
    traced = SimpleNamespace(left=line, right=line)
    assert ends_there(replace(picture, seen=seen), traced, "left", 110.0) is is_end
