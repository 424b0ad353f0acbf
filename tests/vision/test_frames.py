"""From frame to frame and back, and a scale that does not ask where in the picture a board lies."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.geometry.strip_layout import corners_mm, id_of
from scanner.vision.evidence.seen import Seen, SeenMarkers
from scanner.vision.fit.camera import Camera
from scanner.vision.fit.references import PAPER_MM
from scanner.vision.fit.scale_fit import mirrored
from scanner.vision.rectify import FacePlace
from scanner.vision.scale import fit_seen
from scanner.vision.setup import Setup
from tests.bench.levels import KINDS, LEVELS
from tests.bench.scenes import draw_scene

THICKNESS_MM, BATTEN_MM, MARKERS = 27.0, 20.0, 50
FLAT = Setup(
    thickness=Measured(THICKNESS_MM, 0.2),
    batten_mm=BATTEN_MM,
    strip_taped=Measured(2500.0, 0.8),
    warp=Warp(),
)
SEEDS = (6001, 6004)


@cache
def exact_scene(seed):
    """Return a fit of a strip seen without any error, and the camera that saw it."""
    scene = draw_scene(seed, KINDS["strip"], LEVELS["typical"])
    drawn, lens = scene.cameras[0], scene.seen[0].lens
    # The prior knows this lens: only where the camera stood is left to find.
    lens = replace(lens, focal_px=float(drawn.lens[0]), terms=tuple(map(float, drawn.lens[3:])))
    camera = Camera(lens.mean, drawn.R, drawn.t)
    flat = np.concatenate([corners_mm(k) for k in range(MARKERS)])
    world = np.column_stack([flat, np.full(len(flat), BATTEN_MM + PAPER_MM)])
    ids = np.array([id_of("A", k) for k in range(MARKERS)])
    corners = camera.project(world).reshape(-1, 4, 2)
    seen = Seen("exact", lens, markers=SeenMarkers(ids, corners, np.full(MARKERS, 0.3)))
    return fit_seen((seen,), FLAT, "strip"), camera


places = st.tuples(st.floats(100, 2400), st.floats(60, 500), st.floats(0, 2 * np.pi))


@settings(max_examples=40, deadline=None)
@given(seed=st.sampled_from(SEEDS), place=places, length=st.floats(50, 1500))
def test_a_length_is_the_same_wherever_the_board_lies(seed, place, length):
    fit, camera = exact_scene(seed)
    x, y, turn = place
    step = length / 2 * np.array([np.cos(turn), np.sin(turn)])
    ends = np.array([x, y]) + np.array([-step, step])
    world = np.column_stack([ends, np.full(2, THICKNESS_MM)])
    there = fit.face_from_photo(0, camera.project(world))
    # Nothing is wrong with these marks, so that only the fit's last step is left.
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(length, abs=1e-3)


@settings(max_examples=40, deadline=None)
@given(seed=st.sampled_from(SEEDS), x=st.floats(-200, 2700), y=st.floats(-600, 600))
def test_face_and_photo_there_and_back(seed, x, y):
    fit, _ = exact_scene(seed)
    point = np.array([[x, y]])
    assert fit.face_from_photo(0, fit.photo_from_face(0, point)) == pytest.approx(point, abs=1e-6)


finite = st.floats(-5000, 5000)


@given(x=finite, y=finite, angle=st.floats(-np.pi, np.pi), px=finite, py=finite)
def test_rule_frame_and_picture_there_and_back(x, y, angle, px, py):
    place = FacePlace((x, y), angle, (2400.0, 200.0))
    point = np.array([[px, py]])
    assert place.place_from_rule(place.rule_from_place(point)) == pytest.approx(point, abs=1e-6)
    assert place.rule_from_place(place.place_from_rule(point)) == pytest.approx(point, abs=1e-6)


@given(x=finite, y=finite)
def test_rule_frame_and_reference_frame_there_and_back(x, y):
    assert mirrored(mirrored(np.array([[x, y]]))) == pytest.approx(np.array([[x, y]]), abs=1e-6)
