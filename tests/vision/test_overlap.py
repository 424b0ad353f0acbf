"""Grain found again in another photo tells how high the face lies, which no single photo can."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely.geometry import Point, box

from scanner.board.measured import Measured
from scanner.vision.fit.refit import with_face_points
from scanner.vision.overlap import matched_points
from scanner.vision.rectify import FacePlace
from scanner.vision.scale import fit_scale
from scanner.vision.setup import Setup
from tests.vision.drawn import PX_PER_MM, camera, photo_of, shoot, strip_sheet

pytestmark = pytest.mark.slow

TOP_MM, LOW_MM = 230.0, 50.0
FACE = FacePlace((0.0, -TOP_MM), 0.0, (1000.0, TOP_MM - LOW_MM))
OUTLINE = box(0, 0, *FACE.size_mm)
# The drawn face lies on the floor; the person said that it is 6 mm thick, give or take 6.
SETUP = Setup(thickness=Measured(6.0, 12.0), strip_taped=Measured(1000.0, 1.0))
VIEWS = (camera(tilt_deg=24.0), camera(tilt_deg=22.0, turn=np.pi - 0.2, aim=(460.0, 60.0)))


def sheet_with_face(seed=5, *, is_plain=False):
    """Return a sheet of strip and wood-like face, and its corner in the reference frame."""
    strip, _ = strip_sheet()
    rows = round(TOP_MM - 30)
    # Drawn at 1 px a mm and enlarged: nothing finer shows in the photos.
    face = np.full((rows, strip.shape[1] // PX_PER_MM), 150.0, np.float32)
    if not is_plain:
        random = np.random.default_rng(seed)
        for length, width, height in ((40, 1.2, 12.0), (8, 1.7, 8.0), (2.2, 2.2, 9.0)):
            noise = random.normal(0, 1, face.shape).astype(np.float32)
            soft = cv2.GaussianBlur(noise, (0, 0), sigmaX=length, sigmaY=width)
            face += height * soft / soft.std()
    face = cv2.resize(face, (strip.shape[1], rows * PX_PER_MM), interpolation=cv2.INTER_CUBIC)
    face[round((TOP_MM - LOW_MM) * PX_PER_MM) :] = 110.0
    return np.vstack([np.clip(face, 0, 255).astype(np.uint8), strip]), (0.0, TOP_MM)


@pytest.fixture(scope="module")
def photos():
    sheet, corner = sheet_with_face()
    return tuple(
        photo_of(shoot(view, sheet, corner, seed), name=f"{seed}.jpg")
        for seed, view in enumerate(VIEWS)
    )


def height_mm(fit):
    middle = np.array([[500.0, 140.0]])
    return float(fit.solution.model.face_world(fit.solution.state, middle)[0, 2])


def test_two_photos_find_that_the_face_is_lower_than_was_said(photos):
    fit = fit_scale(photos, SETUP)
    assert height_mm(fit) > 5.0
    points = matched_points(photos, fit, FACE, OUTLINE)
    assert len(points) > 8
    seen = with_face_points(fit, points)
    assert seen.apart_rel == 0.0
    assert abs(height_mm(seen)) < 1.5
    p, q = np.array([100.0, -140.0]), np.array([900.0, -140.0])
    assert seen.u_between(p, q) < 0.5 * fit.u_between(p, q)
    # The truth is known: both points through the true camera.
    world = np.column_stack([np.array([p, q]) * [1, -1], np.zeros(2)])
    there = seen.face_from_photo(0, VIEWS[0].project(world))
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(800.0, abs=seen.u_between(p, q))


def test_nothing_beyond_the_traced_outline_is_matched(photos):
    """Floor past both ends, matched too, looked like ends that hang and made lengths 1 % long."""
    fit = fit_scale(photos, SETUP)
    board = box(130, 20, 860, 160)
    points = matched_points(photos, fit, FACE, board)
    assert len(points) > 8
    spots = np.array([point.start_mm for point in points]) @ np.diag([1, -1])
    spots = FACE.place_from_rule(spots)
    # Half the smallest patch, at half a millimetre a pixel, stays inside the arris too.
    assert all(board.buffer(-8.0).contains(Point(spot)) for spot in spots)


def test_where_photos_and_what_was_told_disagree_u_covers_both(photos):
    wrong = fit_scale(photos, replace(SETUP, thickness=Measured(12.0, 0.5)))
    seen = with_face_points(wrong, matched_points(photos, wrong, FACE, OUTLINE))
    assert any("disagree" in doubt for doubt in seen.doubts)
    p, q = wrong.long_line()
    ends = [wrong.photo_from_face(wrong.source(end), end[None]) for end in (p, q)]
    there = [
        seen.face_from_photo(wrong.source(end), pixel)[0]
        for end, pixel in zip((p, q), ends, strict=True)
    ]
    off = abs(np.linalg.norm(there[1] - there[0]) - np.linalg.norm(q - p))
    # Neither U told of it.
    assert off > wrong.u_between(p, q) > 0
    assert off > replace(seen, apart_rel=0.0).u_between(*there)
    # Not all of it: with two sides the guess of the bow opens before they are compared.
    assert seen.u_between(*there) >= 0.9 * off


def test_a_match_gone_wrong_is_left_out(photos):
    fit = fit_scale(photos, SETUP)
    points = matched_points(photos, fit, FACE, OUTLINE)
    first, second = points[3].seen
    wrong = type(points[3])((first, second._replace(y_px=second.y_px + 9.0)), points[3].start_mm)
    spoiled = with_face_points(fit, (*points[:3], wrong, *points[4:]))
    assert len(spoiled.observations.points) < len(points)
    assert abs(height_mm(spoiled)) < 1.5


def test_a_face_without_grain_gives_nothing_to_match():
    sheet, corner = sheet_with_face(is_plain=True)
    photos = tuple(photo_of(shoot(view, sheet, corner, 7)) for view in VIEWS)
    fit = fit_scale(photos, SETUP)
    assert len(matched_points(photos, fit, FACE, OUTLINE)) < 4


def test_a_board_moved_between_its_photos_is_noticed(photos):
    sheet, corner = sheet_with_face()
    cut = round((TOP_MM - LOW_MM) * PX_PER_MM)
    moved = sheet.copy()
    # The left half stays; the right half was pushed 7 mm across.
    half = sheet.shape[1] // 2
    moved[:cut, half:] = np.roll(sheet[:cut, half:], 7 * PX_PER_MM, axis=0)
    pair = (photos[0], photo_of(shoot(VIEWS[1], moved, corner, 1)))
    fit = fit_scale(pair, SETUP)
    points = matched_points(pair, fit, FACE, OUTLINE)
    seen = with_face_points(fit, points)
    assert len(seen.observations.points) < len(points)


def test_two_photos_from_one_place_say_that_the_other_side_is_better(photos):
    sheet, corner = sheet_with_face()
    pair = (photos[0], photo_of(shoot(camera(tilt_deg=26.0), sheet, corner, 8)))
    fit = fit_scale(pair, SETUP)
    near = with_face_points(fit, matched_points(pair, fit, FACE, OUTLINE))
    assert any("other side" in doubt for doubt in near.doubts)
    # Nothing seen of the bow, so that it is taken for granted as in a single photo.
    assert near.observations.face.crown == fit.observations.face.crown
    both = fit_scale(photos, SETUP)
    wide = with_face_points(both, matched_points(photos, both, FACE, OUTLINE))
    assert not any("other side" in doubt for doubt in wide.doubts)
