"""Warped boards, strips on the face, marks: the picture and the truth must tell the same story."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.render.lie import Lie
from tests.render.marks import Mark
from tests.render.photo import render_photo, truth_of
from tests.render.scene import draw_board, draw_mark, draw_photo
from tests.render.shape import Shape
from tests.render.truth import board_truth


@pytest.fixture(scope="module")
def flat():
    return draw_board(905, species="hard maple", length_mm=1300, clean=True, flat=True)


def test_a_flat_board_lies_on_the_floor(flat):
    assert Lie(flat, 1).is_flat and Lie(flat, 1).lift(np.float32([0.0]), np.float32([0.0])) == 0


@pytest.mark.parametrize("face", [1, 2])
def test_a_board_with_a_hollow_face_1_stands_on_its_middle_or_on_its_ends(flat, face):
    lie = Lie(replace(flat, bow=12.0), face)
    ends, middle = lie.lift(np.float32([0.0, 1300.0]), np.float32([0, 0])), lie.lift(650.0, 0.0)
    if face == 1:
        assert ends == pytest.approx([12, 12], abs=0.01) and middle == pytest.approx(0, abs=0.01)
    else:
        assert ends == pytest.approx([0, 0], abs=0.01) and middle == pytest.approx(12, abs=0.01)


def test_a_twisted_board_touches_with_three_corners_and_lifts_the_fourth(flat):
    lie = Lie(replace(flat, twist=8.0), 1)
    half = flat.width_mm / 2
    corners = [(x, y) for x in (0.0, flat.length_mm) for y in (-half, half)]
    lifts = sorted(float(lie.lift(x, y)) for x, y in corners)
    assert lifts == pytest.approx([0, 0, 0, 8], abs=0.02) or lifts == pytest.approx(
        [0, 0, 4, 4], abs=0.02
    )


def test_no_part_of_a_warped_board_is_below_the_floor(flat):
    board = replace(flat, bow=-9.0, cup=3.0, twist=6.0)
    x, y = np.meshgrid(np.linspace(0, 1300, 9), np.linspace(-0.5, 0.5, 9) * board.width_mm)
    for face in (1, 2):
        assert Lie(board, face).lift(x, y).min() > -0.01


def test_the_truths_surface_is_the_one_that_is_rendered(flat):
    board = replace(flat, bow=11.0, cup=-2.0, twist=5.0, crook=6.0)
    photo = draw_photo(5, board, size="small", face=2)
    truth = truth_of(board, photo)
    points = np.array([[10.0, 12.0], [640.0, 80.0], [1280.0, 100.0]])
    model = truth.board.model_from_board(points)
    lie = Lie(board, 2)
    expected = lie.lift(model[:, 0], model[:, 1]) + board.thickness_mm
    assert truth.photo.reference_from_board(points)[:, 2] == pytest.approx(expected, abs=1e-3)


@pytest.mark.slow
def test_markers_of_a_strip_on_a_bowed_face_lie_where_the_truth_says(flat):
    board = replace(flat, bow=12.0)
    photo = draw_photo(
        6, board, size="medium", rule_on="face", floor="concrete", light="shade", orientation=1
    )
    photo = replace(photo, supersample=1)
    rendered = render_photo(board, photo)
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    grey = cv2.cvtColor(rendered.pixels, cv2.COLOR_RGB2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(book).detectMarkers(grey)
    known = rendered.truth.photo.markers_px
    assert ids is not None and len(ids) > 0.6 * len(known)
    off = [
        c.reshape(4, 2).mean(axis=0) - np.mean(known[str(int(k))], axis=0)
        for c, k in zip(corners, ids.ravel(), strict=True)
    ]
    assert np.abs(off).max() < 0.6
    assert rendered.truth.photo.rule_on == "face"


@pytest.mark.parametrize("kind", ["loop", "cross", "line"])
def test_a_mark_shows_on_its_own_face_only_and_on_the_wood(flat, kind):
    board = replace(flat, marks=(draw_mark(3, flat, kind=kind, face=2),))
    truth = board_truth(Shape(board))
    found = [f for f in truth.flaws if f.kind == "marked"]
    assert [f.look for f in found] == [kind] and set(found[0].outlines) == {"2"}
    ring = np.array(found[0].outlines["2"][0])
    assert cv2.contourArea(ring.astype(np.float32)) > 100
    assert ring[:, 0].min() > -2 and ring[:, 0].max() < truth.length + 2


def test_a_mark_darkens_pale_wood_along_its_stroke(flat):
    mark = Mark(Shape(flat), draw_mark(3, flat, kind="cross", face=1, tool="black crayon"))
    on = np.vstack(mark.strokes).astype(np.float32)
    for points, changed in ((on, True), (on + np.float32([400, 0]), False)):
        colour = np.full((len(points), 3), 0.6, dtype=np.float32)
        mark.paint(colour, points[:, 0], points[:, 1], np.zeros(len(points), np.float32))
        assert (colour.mean() < 0.5) == changed


def test_a_shake_follows_a_ring_and_stays_on_the_board(flat):
    drawn = (draw_board(s, length_mm=1500) for s in range(3000, 3060))
    board = next(b for b in drawn if any(c.kind == "shake" for c in b.cracks))
    shake = next(f for f in board_truth(Shape(board)).flaws if f.kind == "shake")
    assert shake.reach and set(shake.outlines) <= {"1", "2"}
