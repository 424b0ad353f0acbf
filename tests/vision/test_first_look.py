"""A board of which only a part was located is looked at once more."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.board.measured import Measured
from scanner.geometry.polygons import iou
from scanner.vision.first_look import first_look, rough_place
from scanner.vision.ground.by_map import board_on_map
from scanner.vision.photos.photo import read_photo
from scanner.vision.place import longer
from scanner.vision.scale import fit_scale
from scanner.vision.setup import Setup

SAMPLE = Path(__file__).resolve().parents[2] / "sample_images" / "ash-02-face1.jpg"


@pytest.fixture(scope="module")
def board():
    """Photo, fit, place and outline of a board that was located whole."""
    photos = (read_photo(SAMPLE),)
    fit = fit_scale(photos, Setup(thickness=Measured(27.0, 1.0), batten_mm=25.0))
    whole, *_ = rough_place(photos, fit, SAMPLE.name)
    return photos, fit, whole, first_look(photos, fit, whole, SAMPLE.name)[0].outline.bounds


@pytest.mark.slow
def test_a_board_that_runs_along_the_pictures_border_is_traced_whole(board):
    photos, fit, whole, (_, low, _, high) = board
    # The picture begins inside the board, as where only a pale edge of it was taken for all.
    half = (low + high) / 2 + 15.0
    down = np.array([-np.sin(whole.angle_rad), np.cos(whole.angle_rad)]) * half
    part = replace(
        whole,
        origin_mm=(whole.origin_mm[0] + down[0], whole.origin_mm[1] + down[1]),
        size_mm=(whole.size_mm[0], whole.size_mm[1] - half),
    )
    _, again_low, _, again_high = first_look(photos, fit, part, SAMPLE.name)[0].outline.bounds
    assert again_high - again_low == pytest.approx(high - low, abs=3.0)


@pytest.mark.slow
def test_a_board_located_short_is_followed_to_its_ends(board):
    photos, fit, whole, (left, _, right, _) = board
    # The picture ends inside the board, as where the rest of it lies in the shade.
    off = -0.15 * (right - left) - 110.0
    traced, _ = first_look(photos, fit, longer(whole, off, off), SAMPLE.name)
    begin, _, end, _ = traced.outline.bounds
    assert end - begin == pytest.approx(right - left, abs=3.0)


@pytest.mark.slow
def test_the_map_shows_a_board_of_which_half_was_guessed_and_none_beside_it(board):
    photos, fit, whole, (left, low, right, high) = board
    half, middle = (left + right) / 2, (low + high) / 2

    def rectangle(x0, y0, x1, y1):
        corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        return Polygon(whole.rule_from_place(corners))

    true = rectangle(left, low, right, high)
    guess = rectangle(left + 60, low + 30, right - 60, middle + 40)
    seen = board_on_map(photos, fit, guess, whole.angle_rad + 0.02)
    assert seen is not None
    assert iou(seen[0], true) > 0.93
    assert seen[1] == pytest.approx(whole.angle_rad, abs=0.01)
    beyond = rectangle(half - 300, high + 60, half + 300, high + 160)
    shown = board_on_map(photos, fit, beyond, whole.angle_rad)
    assert shown is None or iou(shown[0], true) > 0.93
