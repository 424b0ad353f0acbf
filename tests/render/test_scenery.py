"""Litter, blades and walls make a picture lifelike; they never touch what is measured."""

from dataclasses import replace

import numpy as np
import pytest

from tests.render.backdrop import Backdrop
from tests.render.blades import overgrow
from tests.render.light import Light, contact
from tests.render.scatter import strew
from tests.render.scene import draw_board, draw_photo
from tests.render.specs import LightSpec
from tests.render.stage import Stage

FREE = (-180.0, 420.0)  # the band of board and rule


@pytest.fixture(scope="module")
def lawn():
    board = draw_board(3004, length_mm=1250)
    return Stage(board, draw_photo(3004, board, rule="plain", size="small", floor="grass"))


def test_the_sky_beside_a_board_is_a_share_however_far_its_bow_is_drawn_on():
    sky = contact(np.float32([0, 60, 900, 2500]), 25.0, np.float32([3, 0, -40, -400]))
    assert np.all((sky >= 0) & (sky <= 1))
    assert np.all(np.diff(sky) > 0)


def _walls(eye):
    light = Light(LightSpec("indoor", 30.0, 45.0, 0.9, 0.0, "", 3))
    for seed in range(3000, 3060):
        wall = Backdrop(seed, "concrete", FREE, 2000.0, light, np.float32(eye))
        if wall.is_there:
            yield wall


def test_a_wall_stands_behind_board_and_rule_and_never_before_the_camera():
    x, y = (g.ravel() for g in np.meshgrid(np.linspace(0, 2000, 40), np.linspace(*FREE, 9)))
    eye = (1000.0, -900.0, 1600.0)
    walls = list(_walls(eye))
    assert len(walls) > 15
    for wall in walls:
        assert wall.ahead(x.astype(np.float32), y.astype(np.float32)).min() > 100
        assert wall.ahead(np.float32(eye[:1]), np.float32(eye[1:2]))[0] > 0


def test_a_ray_meets_the_wall_on_its_plane_above_the_floor():
    eye = np.float32([1000.0, -900.0, 1600.0])
    wall = next(w for w in _walls(eye) if w.ahead(np.float32([1000]), np.float32([3000]))[0] < 0)
    at, x, y, z = wall.meet(np.float32([0.0, 0.0]), np.float32([0.1, 2.4]))
    assert at.tolist() == [1] and 0 < z[0] < eye[2]
    assert abs(wall.ahead(x, y)[0]) < 0.5


def test_the_floor_is_darkest_at_the_foot_of_a_wall():
    wall = next(_walls((1000.0, -900.0, 1600.0)))
    away = np.float32([2.0, 60.0, 900.0])
    x, y = (wall._to[k] * (wall._at - away) for k in (0, 1))
    sky = wall.open_sky(x, y)
    assert sky[0] < sky[1] < sky[2] <= 1


def test_litter_lies_on_the_floor_alone_and_the_same_seed_strews_it_alike(lawn):
    width, height = lawn.photo.camera.size
    owner = np.zeros((height, width), dtype=np.int8)
    owner[:, : width // 2] = 2  # as if the rule filled half the picture
    pictures = [np.full((height, width, 3), 0.2, dtype=np.float32) for _ in range(2)]
    for picture in pictures:
        strew(lawn, picture, owner)
    assert np.array_equal(*pictures)
    assert (pictures[0][:, : width // 2] == np.float32(0.2)).all()
    assert (pictures[0][:, width // 2 :] != np.float32(0.2)).any()


def test_blades_lean_over_the_rim_and_leave_the_middle_of_the_board_free(lawn):
    width, height = lawn.photo.camera.size
    owner = np.zeros((height, width), dtype=np.int8)
    picture = np.full((height, width, 3), 0.2, dtype=np.float32)
    overgrow(lawn, picture, owner)
    drawn = (picture != np.float32(0.2)).any(axis=2)
    board = lawn.shape.board
    x = np.linspace(150, board.length_mm - 150, 200)
    share = {}
    for name, y in (("rim", board.width_mm / 2 - 3), ("middle", 0.0)):
        on_face = lawn.laid.on_floor(x, np.full(len(x), y))
        z = lawn.laid.surface(*on_face.T)
        at = np.round(lawn.photo.camera.project(np.column_stack([on_face, z]))).astype(int)
        share[name] = float(drawn[at[:, 1], at[:, 0]].mean())
    assert share["rim"] > 0.05 and share["middle"] < 0.03


def test_no_blades_grow_where_there_is_no_lawn(lawn):
    picture = np.full((20, 20, 3), 0.2, dtype=np.float32)
    paved = type("S", (), {"photo": replace(lawn.photo, floor="asphalt")})()
    overgrow(paved, picture, np.zeros((20, 20), np.int8))
    assert (picture == np.float32(0.2)).all()


def test_what_the_lens_model_would_fold_back_into_the_picture_is_not_before_the_lens(lawn):
    camera = lawn.photo.camera
    straight = camera.centre + 1500 * camera.R[2]
    aside = camera.centre + 300 * camera.R[2] + 1500 * camera.R[0]
    behind = camera.centre - 1500 * camera.R[2]
    assert camera.faces(np.array([straight, aside, behind])).tolist() == [True, False, False]
