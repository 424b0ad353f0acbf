"""Ends whose paint laps over the face: the saw's straight line, not the paint's ragged border."""

import numpy as np
import pytest

from scanner.vision.outline.ragged_end import floor_from_mm, is_met, is_ragged, straight_step
from scanner.vision.outline.several import ArrisOdds
from scanner.vision.photos.picture import FacePicture
from tests.vision.faces import CONCRETE, PALE

MM, HIGH_MM, WIDE_MM = 0.5, 140.0, 80.0
# The saw's line, from its first point to its last (x, y).
SAWN = np.array([[50.0, 5.0], [52.0, 135.0]])
# The map is nowhere sure of floor.
ANYWHERE = (SAWN[:, 1], np.array([60.0, 60.0]))
PAINTS = {"red": (125, 47, 38), "blue": (93, 127, 156)}


def end_picture(paint: tuple[int, int, int] | None) -> FacePicture:
    """Return a right end, paint lapping over its lower two thirds, more towards the corner."""
    y, x = np.mgrid[0 : HIGH_MM / MM, 0 : WIDE_MM / MM] * MM
    arris = SAWN[0, 0] + (y - SAWN[0, 1]) * (SAWN[1, 0] - SAWN[0, 0]) / (SAWN[1, 1] - SAWN[0, 1])
    pixels = np.where((x < arris)[..., None], PALE, CONCRETE).astype(float)
    if paint is not None:
        lap = 0.08 * np.maximum(y - 45.0, 0.0) * (1 + 0.4 * np.sin(y / 9.0))
        pixels[(x < arris) & (x > arris - lap)] = paint
    pixels += np.random.default_rng(3).normal(0.0, 3.0, pixels.shape)
    return flat(np.clip(pixels, 0, 255).astype(np.uint8))


def flat(pixels: np.ndarray) -> FacePicture:
    return FacePicture(
        pixels=pixels,
        mm_per_px=MM,
        origin_mm=(0.0, 0.0),
        u_scale=0.0,
        u_point_mm=0.5,
        seen=np.ones(pixels.shape[:2], bool),
    )


@pytest.mark.parametrize("paint", PAINTS)
@pytest.mark.parametrize("outward", [1, -1])
def test_an_end_goes_by_the_saws_line_and_not_by_the_border_of_its_paint(paint, outward):
    face, askew, sawn = end_picture(PAINTS[paint]), SAWN + np.array([[0.5, 0.0], [-4.5, 0.0]]), SAWN
    if outward < 0:
        last = np.array([(face.pixels.shape[1] - 1) * MM, 0.0])
        face = flat(np.ascontiguousarray(face.pixels[:, ::-1]))
        askew, sawn = (last + line * [-1.0, 1.0] for line in (askew, sawn))
    found = straight_step(face, askew, outward, 10.0, ANYWHERE)
    assert found == pytest.approx(sawn, abs=0.6)


@pytest.mark.parametrize("moved_mm", [0.0, 0.4])
def test_an_end_that_lies_on_its_step_stays(moved_mm):
    line = SAWN + np.array([moved_mm, 0.0])
    assert straight_step(end_picture(None), line, 1, 10.0, ANYWHERE) is line


@pytest.mark.parametrize(("sure", "told"), [(0.7, False), (1.4, False), (2.5, True), (5.0, True)])
def test_floor_that_the_map_is_sure_of_is_no_paint(sure, told):
    t, s = np.arange(0.0, 61.0), 4.0 * np.arange(20)
    odds = np.where(t < 40.0, 5.0 * t, 200.0 - sure * (t - 40.0))[:, None].repeat(20, axis=1)
    side = ArrisOdds(odds.astype(np.float32), t, s, 0, np.zeros_like(t))
    from_mm = floor_from_mm(side)
    assert (from_mm == (42.0 if told else 60.0)).all()


def test_no_other_line_runs_out_over_floor_that_the_map_is_sure_of():
    # The foot of the end's own shadowed side, straight too, and no step where the saw cut.
    y, x = np.mgrid[0 : HIGH_MM / MM, 0 : WIDE_MM / MM] * MM
    foot = np.interp(y, SAWN[:, 1], SAWN[:, 0]) + 5.0
    shadowed = np.where((x < foot)[..., None], PALE, CONCRETE).astype(np.uint8)
    sure = (np.array([5.0, 90.0, 91.0, 135.0]), np.array([60.0, 60.0, 2.5, 2.5]))
    past_mm = [
        (straight_step(flat(shadowed), SAWN, 1, 10.0, floor) - SAWN)[1, 0]
        for floor in (ANYWHERE, sure)
    ]
    assert past_mm[0] == pytest.approx(5.0, abs=0.6)
    assert past_mm[1] < 2.6


def test_a_saws_cut_is_not_ragged_for_one_splinter_and_a_paints_border_is():
    splinter = np.where(np.arange(40) == 20, 5.0, 0.1)
    assert not is_ragged(splinter)
    assert is_ragged(1.5 * np.sin(np.arange(40) / 5.0))


def test_a_step_that_the_mapped_border_meets_nowhere_is_another_than_the_saws():
    lapped = np.maximum(np.linspace(-4.0, 5.0, 40), 0.0)
    assert is_met(lapped)
    assert not is_met(lapped + 4.5)


def test_of_lines_that_meet_as_many_steps_the_nearest_is_taken():
    face = end_picture(None)
    y, x = np.mgrid[0 : HIGH_MM / MM, 0 : WIDE_MM / MM] * MM
    arris = np.interp(y, SAWN[:, 1], SAWN[:, 0])
    # A saw's burn along the whole end: its border is as straight and as clear.
    burnt = np.where(((x < arris) & (x > arris - 2.0))[..., None], PAINTS["red"], face.pixels)
    line = SAWN + np.array([[0.9, 0.0], [0.9, 0.0]])
    found = straight_step(flat(burnt.astype(np.uint8)), line, 1, 10.0, ANYWHERE)
    assert found == pytest.approx(SAWN, abs=0.6)
