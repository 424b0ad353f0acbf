"""Loops, X's and lines across in dabs are told by their course; figure and knots are not."""

import cv2
import numpy as np
import pytest

from scanner.vision.flaws.chalk_colour import colour_metric, in_units, wood_beneath
from scanner.vision.flaws.closer_look import SeenColours
from scanner.vision.flaws.drawn_courses import drawn_marks
from tests.vision.chalk import across, cross, loop

pytestmark = pytest.mark.slow

_BLACK, _BLUE, _BROWN = (28.0, 0.0, 2.0), (45.0, 8.0, -38.0), (52.0, 10.0, 28.0)
_SIZE = (130, 300)


def _wood(seed=0):
    """Return the CIELAB of pale wood with brown grain, a millimetre a pixel."""
    rng = np.random.default_rng(seed)
    grain = cv2.GaussianBlur(rng.standard_normal(_SIZE).astype(np.float32), (0, 0), 25, sigmaY=0.8)
    noise = rng.standard_normal((*_SIZE, 3)).astype(np.float32)
    lab = np.array([78, 4, 20], np.float32) + (grain / grain.std())[..., None] * [-2.5, 0.5, 0.8]
    return (lab + noise * [1.0, 0.4, 0.4]).astype(np.float32)


def _drawn(lab, strokes, ink, cover=0.45, seed=0):
    """Return the picture with strokes in dabs: ``cover`` of their length takes the ink."""
    canvas = np.zeros(lab.shape[:2], np.uint8)
    for points in strokes:
        cv2.polylines(canvas, [np.rint(points).astype(np.int32)], False, 255, 5, cv2.LINE_AA)
    rng = np.random.default_rng(seed)
    skips = cv2.GaussianBlur(rng.standard_normal(canvas.shape), (0, 0), 2.0)
    takes = skips > np.quantile(skips, 1 - cover)
    share = cv2.GaussianBlur(canvas / 255.0 * takes, (0, 0), 0.7)[..., None]
    return (lab + share * (np.array(ink) - lab)).astype(np.float32)


def _with_knot(lab, x, y, wide, high, colour=_BROWN):
    inner = np.zeros(lab.shape[:2], np.uint8)
    cv2.ellipse(inner, (x, y), (wide // 2, high // 2), 0, 0, 360, 255, -1)
    share = cv2.GaussianBlur(inner / 255.0, (0, 0), 1.0)[..., None]
    return (lab + share * (np.array(colour) - lab)).astype(np.float32)


def _told(lab):
    wood = np.ones(lab.shape[:2], bool)
    rim = np.zeros_like(wood)
    rim[:8], rim[-8:] = True, True
    off = lab - wood_beneath(lab)
    metric = colour_metric(off, wood)
    seen = SeenColours(lab, off, in_units(off, metric), metric, wood, rim)
    return [(mark.says, mark.colour, mark.corner, mark.region.shape) for mark in drawn_marks(seen)]


@pytest.mark.parametrize(("ink", "colour"), [(_BLACK, "dark"), (_BLUE, "blue")])
def test_a_loop_in_dabs_round_a_knot_is_told_with_its_colour(ink, colour):
    lab = _drawn(_with_knot(_wood(), 140, 65, 26, 18), [loop(140, 65, 84, 60, seed=3)], ink)
    loops = [mark for mark in _told(lab) if mark[0] == "loop"]
    assert [mark[1] for mark in loops][:1] == [colour]
    (left, top), (high, wide) = loops[0][2:]
    assert abs(left + wide / 2 - 140) < 8
    assert abs(top + high / 2 - 65) < 8
    assert wide > 70
    assert high > 48


def test_an_x_in_dabs_is_told():
    told = _told(_drawn(_wood(1), cross(140, 65, 90, 70, seed=2), _BLUE))
    assert ("X", "blue") in [mark[:2] for mark in told]


def test_a_thin_line_in_dabs_from_arris_to_arris_is_told():
    told = _told(_drawn(_wood(2), [across(130, 2, 128, seed=1)], _BLACK))
    lines = [mark for mark in told if mark[0] == "line"]
    assert [mark[1] for mark in lines][:1] == ["dark"]
    assert abs(lines[0][2][0] + lines[0][3][1] / 2 - 130) < 10


def test_grain_and_a_knot_with_a_dark_ring_are_no_marks():
    lab = _with_knot(_wood(4), 140, 65, 70, 50, colour=(38.0, 4.0, 10.0))
    assert _told(_with_knot(lab, 140, 65, 58, 40)) == []


def test_half_a_loop_is_none():
    points = loop(140, 65, 84, 60, seed=3)
    told = _told(_drawn(_wood(5), [points[: len(points) // 2]], _BLUE, cover=0.8))
    assert "loop" not in [mark[0] for mark in told]


def test_paint_on_an_end_is_no_line_across():
    lab = _wood(6)
    lab[:, 6:14] = _BLUE
    assert "line" not in [mark[0] for mark in _told(lab)]
