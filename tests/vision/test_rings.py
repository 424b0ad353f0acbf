"""Rings drawn as circles round a pith: what the faces then tell of the log."""

import pytest

from scanner.board.looks import Looks
from scanner.vision.looks.of_board import FaceWood, looks_of
from scanner.vision.photos.picture import WoodColour
from tests.vision.rings import PX, THICK, board, face


@pytest.mark.parametrize("ring_mm", [2.0, 3.0, 5.0])
def test_rings_are_as_far_apart_as_they_were_drawn(ring_mm):
    looks = looks_of(board(ring_mm), THICK)
    assert looks.ring_mm == pytest.approx(ring_mm, rel=0.12)


@pytest.mark.slow
def test_the_face_nearer_to_the_pith_is_the_heart_side():
    faces = board(depth_mm=30.0)
    assert looks_of(faces, THICK).heart_face == 2
    turned = {1: faces[2], 2: faces[1]}
    assert looks_of(turned, THICK).heart_face == 1


def test_one_face_alone_tells_no_heart_side():
    assert looks_of({1: board()[1]}, THICK).heart_face is None


@pytest.mark.slow
def test_arches_stand_over_the_pith_and_lines_run_beside_it():
    assert looks_of(board(pith_mm=0.0, depth_mm=60.0), THICK).figure == "cathedral"
    assert looks_of(board(pith_mm=150.0, depth_mm=15.0), THICK).figure == "straight"


def test_a_face_all_of_flaws_tells_nothing():
    bare = face(1, 3.0, 0.0, 40.0)
    covered = FaceWood(bare.pixels, PX, bare.origin_mm, bare.outline, (bare.outline,))
    assert looks_of({1: covered}, THICK) == Looks()


def test_a_board_has_the_mean_colour_of_its_faces():
    colours = {
        1: (WoodColour((60, 6, 20), 2.0), WoodColour((80, 1, 14), 1.0)),
        2: (WoodColour((64, 8, 18), 4.0), None),
    }
    looks = looks_of({}, THICK, colours)
    assert looks == Looks(lab=(62, 7, 19), spread=3.0, sap_lab=(80, 1, 14))
