"""The learned map that outlines are traced from: its weights, what it is told, what it says."""

import hashlib
import re
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest

from scanner.geometry.polygons import iou
from scanner.vision.outline import face_map as module
from scanner.vision.outline.face_map import WEIGHTS, face_map
from scanner.vision.outline.trace import trace_outline
from scanner.vision.photos.picture import FacePicture
from tests.vision.faces import BROWN, PLYWOOD, PaintedFace

CARD = WEIGHTS.with_suffix(".md")


def test_the_outline_weights_are_those_of_the_card_and_small():
    content = WEIGHTS.read_bytes()
    said = re.search(r"SHA-256[^0-9a-f]*([0-9a-f]{64})", CARD.read_text())
    assert said is not None
    assert hashlib.sha256(content).hexdigest() == said.group(1)
    assert len(content) <= 3_000_000


def test_the_card_says_that_real_photos_are_not_proven():
    assert "not proven" in CARD.read_text()


def test_two_boards_scanned_at_once_are_each_told_from_their_own_picture(monkeypatch):
    class HoldsOnePicture:
        """Answers with what it was given last, once another picture had time to come."""

        def __init__(self):
            self.another = threading.Barrier(2)

        def setInput(self, picture):  # noqa: N802 - as OpenCV calls it
            self.given = picture.copy()

        def forward(self):
            with suppress(threading.BrokenBarrierError):
                self.another.wait(0.02)
            return self.given[:, :3]

    net = HoldsOnePicture()
    monkeypatch.setattr(module, "_network", lambda weights: net)
    views = [
        FacePicture(
            np.random.default_rng(seed).integers(0, 255, (60, 100, 3), np.uint8),
            1.0,
            (0.0, 0.0),
            0.001,
            0.5,
            np.ones((60, 100), bool),
        )
        for seed in (0, 1)
    ]
    alone = [face_map(view).face for view in views]
    net.another.reset()
    with ThreadPoolExecutor(2) as both:
        together = [told.face for told in both.map(face_map, views)]
    assert not np.array_equal(*alone)
    assert all(map(np.array_equal, together, alone))


@pytest.mark.slow
def test_a_face_is_told_from_its_floor_at_each_pixel():
    face = PaintedFace(length_mm=300, width_mm=120)
    told = face_map(face.picture())
    x, y = (
        first + np.arange(count) * step
        for first, count, step in zip(
            told.first_mm, told.face.shape[::-1], told.step_mm, strict=True
        )
    )
    inside = (np.abs(x - 210) < 145)[None] & (np.abs(y - 120) < 55)[:, None]
    outside = (np.abs(x - 210) > 155)[None] | (np.abs(y - 120) > 65)[:, None]
    assert (told.face[inside] > 0).mean() > 0.99
    assert (told.face[outside] < 0).mean() > 0.99


@pytest.mark.slow
def test_what_no_photo_shows_is_not_told():
    picture = PaintedFace(length_mm=300, width_mm=120).picture()
    seen = picture.seen.copy()
    seen[:, :100] = False
    dark = picture.pixels.copy()
    dark[:, :100] = 0
    told = face_map(replace(picture, seen=seen))
    again = face_map(replace(picture, seen=seen, pixels=dark))
    assert not told.seen[:, :49].any()
    # Only the rim's pixel mixes seen with unseen.
    assert np.abs(told.face - again.face)[:, 52:].max() < 1.0


@pytest.mark.slow  # two pictures are drawn and mapped
@pytest.mark.parametrize("side_mm", [8, 16])
def test_the_side_of_a_board_of_the_floors_colour_is_no_part_of_its_face(side_mm):
    face = PaintedFace(wood=PLYWOOD, floor=BROWN, side_mm=side_mm, side_light=0.75)
    # A camera whose foot lies below the picture sees the lower side: 20 mm of side a metre.
    picture = replace(face.picture(), foot_mm=(400.0, 210.0 + side_mm / 0.02), side_share=0.02)
    traced = trace_outline(picture, "ash.jpg")
    assert iou(traced.outline, face.outline) > 0.985
    assert traced.outline.bounds[3] == pytest.approx(face.outline.bounds[3], abs=2.5)


@pytest.mark.slow  # two pictures are mapped
def test_a_rule_is_looked_at_but_tells_nothing():
    picture = PaintedFace(length_mm=300, width_mm=120).picture()
    rule = np.zeros_like(picture.seen)
    rule[-100:] = True
    told = face_map(replace(picture, seen=picture.seen & ~rule, rule=picture.seen & rule))
    assert np.array_equal(told.face, face_map(picture).face)
    assert not told.seen[-49:].any()
