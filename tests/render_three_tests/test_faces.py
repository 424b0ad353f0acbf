"""Faces of the third renderer: what their truth says is what they show."""

import json
from functools import cache

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.vision.training.faces import LINE_FILE, read_faces
from tests.bench.learn_third import write_one
from tests.render_three import FINAL_MM
from tests.render_three.face import Face, draw_face

_SMALL_MM = (180.0, 90.0)
_CRACKS = ("check", "split", "shake")


@cache
def _small(seed: int) -> Face:
    return draw_face(seed, _SMALL_MM)


def _shown(face: Face) -> list[np.ndarray]:
    return [
        np.asarray(flaw["polygon"])
        for flaw in face.flaws
        if flaw["kind"] in _CRACKS and not flaw["faint"]
    ]


@pytest.mark.slow
def test_one_seed_is_one_face():
    face, again = draw_face(3, _SMALL_MM), draw_face(3, _SMALL_MM)
    assert np.array_equal(face.pixels, again.pixels)
    assert face.flaws == again.flaws
    assert face.outline == again.outline
    assert not np.array_equal(face.pixels[:100, :100], _small(4).pixels[:100, :100])


@pytest.mark.slow
def test_cracks_are_darker_than_the_wood_beside_them():
    shares = []
    for seed in range(1, 21):
        face = _small(seed)
        grey = face.pixels.mean(axis=2)
        for ring in _shown(face):
            inner = np.zeros(grey.shape, np.uint8)
            cv2.fillPoly(inner, [np.round(ring * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
            belt = cv2.dilate(inner, np.ones((17, 3))) - cv2.dilate(inner, np.ones((9, 3)))
            if inner.any() and belt.any():
                shares.append(grey[inner > 0].mean() / grey[belt > 0].mean())
    assert len(shares) > 40
    assert np.median(shares) < 0.93
    # Pale dust and a lit lip make some of them brighter, few.
    assert np.mean(np.asarray(shares) < 1) > 0.8


@pytest.mark.slow
def test_every_kind_of_flaw_occurs_in_a_hundred_faces():
    missing = {*_CRACKS, "knot", "hole", "bark_pocket", "stain", "pitch", "pith"}
    for seed in range(1, 101):
        missing -= {flaw["kind"] for flaw in _small(seed).flaws}
        if not missing:
            break
    assert not missing


@pytest.mark.slow
def test_flaws_lie_within_the_outline():
    for seed in range(1, 31):
        face = _small(seed)
        board = Polygon(face.outline).buffer(0.05)
        for flaw in face.flaws:
            assert Polygon(flaw["polygon"]).buffer(0).difference(board).area < 0.01


@pytest.mark.slow
def test_a_board_has_its_size_and_other_ground_round_it():
    face = _small(5)
    x, y = np.asarray(face.outline).T
    assert np.ptp(x) * FINAL_MM == pytest.approx(_SMALL_MM[0], abs=4)
    assert np.ptp(y) * FINAL_MM == pytest.approx(_SMALL_MM[1], abs=6)
    high, wide = face.pixels.shape[:2]
    assert min(x.min(), y.min(), wide - x.max(), high - y.max()) * FINAL_MM > 10


@pytest.mark.slow
def test_knots_alone_are_said_to_be_sound_or_not():
    for seed in range(1, 31):
        for flaw in _small(seed).flaws:
            assert isinstance(flaw["sound"], bool) == (flaw["kind"] == "knot")


@pytest.mark.slow
def test_faces_are_read_as_training_faces(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.bench.learn_third.draw_face", _small)
    line = json.dumps(write_one(2, tmp_path))
    (tmp_path / LINE_FILE).write_text(line + "\n", encoding="utf-8")
    (read,) = read_faces(tmp_path)
    assert read.widened
    assert read.source == "rendered"
    assert read.pixels.shape == _small(2).pixels.shape
    assert len(read.flaws) == len(_small(2).flaws)
