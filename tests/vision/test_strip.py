from dataclasses import replace

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.geometry.strip_layout import corners_mm
from scanner.vision.cv import markers_in
from scanner.vision.rule import read_markers
from scanner.vision.rule.marker_order import are_whole, in_order
from scanner.vision.rule.strip import find_strip
from scanner.vision.scale import fit_scale
from scanner.vision.setup import RuleSize, Setup
from scanner.vision.trial import try_out
from tests.vision.drawn import camera, photo_of, shoot, strip_sheet

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def view():
    return camera()


@pytest.fixture(scope="module")
def pixels(view):
    return shoot(view, *strip_sheet())


def _truth(view, ids):
    points = np.concatenate([corners_mm(int(number)) for number in ids])
    return view.project(np.column_stack([points, np.zeros(len(points))])).reshape(-1, 4, 2)


def test_every_marker_is_found_to_a_part_of_a_pixel(view, pixels):
    found = find_strip(photo_of(pixels))
    assert set(found.ids) == set(range(20))
    off = found.corners - _truth(view, found.ids)
    # All black edges may move outwards alike (blur, tone curve): that is bleed, not noise.
    off -= off.mean(axis=0)
    assert 0.005 < off.std() < 0.2


def test_upside_down_and_partly_covered_is_all_the_same(view, pixels):
    turned = np.ascontiguousarray(pixels[::-1, ::-1])
    turned[620:700, 700:900] = 90
    found = find_strip(photo_of(turned))
    assert len(found.ids) >= 10
    there = np.array([1599.0, 1199.0]) - _truth(view, found.ids)
    assert np.abs(found.corners - there).max() < 1.5


def test_scale_comes_out_of_the_picture_within_its_u(view, pixels):
    setup = Setup(thickness=Measured(0.0, 0.2), strip_taped=Measured(1000.0, 1.0))
    fit = fit_scale((photo_of(pixels),), setup)
    true = np.array([[100.0, 250.0], [900.0, 250.0], [500.0, 60.0], [500.0, 260.0]])
    seen = fit.face_from_photo(0, view.project(np.column_stack([true, np.zeros(4)])))
    for i, j in ((0, 1), (2, 3)):
        error = np.linalg.norm(seen[i] - seen[j]) - np.linalg.norm(true[i] - true[j])
        assert abs(error) <= fit.u_between(seen[i], seen[j])
    assert fit.tilt_deg == pytest.approx(view.tilt_deg, abs=1.5)


def test_a_floor_without_a_strip_shows_none(view):
    empty = shoot(view, np.full((40, 40), 240, np.uint8), (0.0, 0.0))
    assert find_strip(photo_of(empty)) is None
    with pytest.raises(PhotoError, match="No reference rule found in drawn"):
        fit_scale((photo_of(empty),), Setup(thickness=Measured(25.0, 1.0)))


def test_a_mirrored_photo_is_refused(pixels):
    with pytest.raises(PhotoError, match="mirrored"):
        find_strip(photo_of(np.ascontiguousarray(pixels[:, ::-1])))


def test_two_strips_with_the_same_numbers_are_refused(pixels):
    two = pixels.copy()
    two[: 1200 // 2 - 200] = pixels[400 : 400 + 1200 // 2 - 200]
    with pytest.raises(PhotoError, match="two strips with the same numbers"):
        find_strip(photo_of(two))


def test_a_marker_read_out_of_wood_grain_is_dropped(view):
    numbers = np.arange(12)
    corners = _truth(view, numbers)
    corners[4] += np.array([37.0, 160.0])
    corners[9] += np.array([22.0, 0.0])
    assert list(np.flatnonzero(~in_order(numbers, corners))) == [4, 9]


@pytest.mark.parametrize("turn", [0.3, 0.8, 1.2, 1.9, 2.4])
def test_a_strip_seen_obliquely_and_steeply_keeps_its_markers(turn):
    # Squares are sheared there: their reach along the strip is no measure of their side.
    steep = camera(tilt_deg=55.0, turn=turn, distance=1500.0)
    numbers = np.arange(20)
    assert in_order(numbers, _truth(steep, numbers)).all()


def test_a_marker_partly_covered_is_left_out_and_its_neighbours_stay(view):
    numbers = np.delete(np.arange(20), [7, 8])
    random = np.random.default_rng(1)
    corners = _truth(view, numbers) + random.normal(0, 0.1, (18, 4, 2))
    assert are_whole(numbers, corners).all()
    corners[5, 1:3] -= 4.0
    corners[12, 2] += 3.0
    assert list(np.flatnonzero(~are_whole(numbers, corners))) == [5, 12]


def test_a_strip_seen_from_too_near_is_found_and_the_answer_is_to_step_back():
    near = camera(tilt_deg=10.0, distance=380.0, aim=(250.0, 20.0))
    photo = photo_of(shoot(near, *strip_sheet()))
    setup = Setup(thickness=Measured(0.0, 0.2))
    with pytest.raises(PhotoError, match=r"taken from less than 0.4 m: step back"):
        fit_scale((photo,), setup)
    trial = try_out(photo, setup)
    assert trial.rule is not None
    assert not trial.will_do
    assert "step back" in trial.verdict
    # Along the strip, at its own height.
    ends = near.project(np.array([[200.0, 0.0, 0.0], [300.0, 0.0, 0.0]]))
    true = 100.0 / np.linalg.norm(ends[1] - ends[0])
    assert trial.rule.mm_per_px[1] == pytest.approx(true, rel=0.01)


def test_a_strip_that_shows_where_a_rule_was_told_is_looked_for_at_half_size_once(monkeypatch):
    photo = photo_of(shoot(camera(tilt_deg=15.0, distance=900.0), *strip_sheet()))
    height = photo.pixels.shape[0]
    looks = []

    def seen(grey, **how):
        looks.append(grey.shape[0])
        return markers_in(grey, **how)

    monkeypatch.setattr(read_markers, "markers_in", seen)
    told = Setup(thickness=Measured(0.0, 0.2), rule=RuleSize(609.6))
    trial = try_out(photo, told)
    assert trial.rule is not None and trial.rule.kind == "strip"
    assert looks.count(height // 2) == 1
    alone = try_out(photo, replace(told, rule=None))
    assert alone.rule == trial.rule
