"""A board of which only a part was located is looked at once more."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.vision.first_look import first_look, rough_place
from scanner.vision.photo import read_photo
from scanner.vision.scale import fit_scale
from scanner.vision.setup import Setup

SAMPLE = Path(__file__).resolve().parents[2] / "sample_images" / "ash-02-face1.jpg"


@pytest.mark.slow
def test_a_board_that_runs_along_the_pictures_border_is_traced_whole():
    photos = (read_photo(SAMPLE),)
    fit = fit_scale(photos, Setup(thickness=Measured(27.0, 1.0), batten_mm=25.0))
    whole, *_ = rough_place(photos, fit, SAMPLE.name)
    low, high = _wide_as(first_look(photos, fit, whole, SAMPLE.name))
    # The picture begins inside the board, as where only a pale edge of it was taken for all.
    half = (low + high) / 2 + 15.0
    down = np.array([-np.sin(whole.angle_rad), np.cos(whole.angle_rad)]) * half
    part = replace(
        whole,
        origin_mm=(whole.origin_mm[0] + down[0], whole.origin_mm[1] + down[1]),
        size_mm=(whole.size_mm[0], whole.size_mm[1] - half),
    )
    again_low, again_high = _wide_as(first_look(photos, fit, part, SAMPLE.name))
    assert again_high - again_low == pytest.approx(high - low, abs=3.0)


def _wide_as(looked):
    traced, _ = looked
    _, low, _, high = traced.outline.bounds
    return low, high
