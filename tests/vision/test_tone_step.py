"""A lit side that looks like the face: the arris lies on the step in tone that has its foot's."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.outline.several import ArrisOdds
from scanner.vision.outline.tone_step import step_odds
from scanner.vision.photos.picture import FacePicture
from tests.vision.faces import CONCRETE, PALE

MM, HIGH_MM, COLUMNS, SHOWS_MM = 0.5, 110.0, 120, 9.0
S_MM = 4.0 * np.arange(COLUMNS) + 2.0
REACHED = np.arange(4, COLUMNS - 4)
T_MM = np.arange(0.0, 101.0)
# A saw's line, counted from the picture's upper border.
ARRIS_MM = 80.0 + 2.0 * (S_MM / S_MM[-1]) ** 2
# What the map tells where it wavers between arris and foot.
WAVERS_MM = ARRIS_MM + 2.0 + 0.8 * np.sin(S_MM / 40.0)


def picture(lit: float, ring: float = 0.0) -> FacePicture:
    """Return a board's lower edge: its side lighter than the face by so much, floor below it.

    ``ring``: how much darker the wood is from 3 mm within the arris on.
    """
    y, x = np.mgrid[0 : HIGH_MM / MM, 0 : S_MM[-1] / MM] * MM
    arris = np.interp(x[0], S_MM, ARRIS_MM)
    grain = 4.0 * np.sin((y + 3.0 * np.sin(x / 60.0)) / 1.7)
    light = np.where(y < arris, grain, lit + grain[:, ::-1])
    light -= np.where((y > arris - 3.0) & (y < arris), ring, 0.0)
    pixels = np.where(
        (y < arris + SHOWS_MM)[..., None], np.array(PALE) + light[..., None], CONCRETE
    )
    pixels += np.random.default_rng(3).normal(0.0, 3.0, pixels.shape)
    return FacePicture(
        pixels=np.clip(pixels, 0, 255).astype(np.uint8),
        mm_per_px=MM,
        origin_mm=(0.0, 0.0),
        u_scale=0.0,
        u_point_mm=0.5,
        seen=np.ones(pixels.shape[:2], bool),
    )


def told(view: FacePicture, t_mm: np.ndarray = WAVERS_MM, name: str = "lower") -> np.ndarray:
    odds, reach = np.zeros((len(T_MM), COLUMNS), np.float32), np.full(len(T_MM), SHOWS_MM)
    return step_odds(view, name, ArrisOdds(odds, T_MM, S_MM, 0, reach), t_mm, REACHED)


@pytest.mark.parametrize("lit", [14.0, -14.0])
@pytest.mark.parametrize("name", ["lower", "upper"])
def test_the_arris_lies_where_face_and_side_step_apart(lit, name):
    view = picture(lit)
    if name == "upper":
        view = replace(view, pixels=np.ascontiguousarray(view.pixels[::-1]))
    odds = told(view, WAVERS_MM, name)
    found = T_MM[odds.argmax(axis=0)][REACHED]
    assert np.abs(found - ARRIS_MM[REACHED]).max() < 1.0


def test_a_ring_beside_the_arris_has_no_foot_of_its_own():
    odds = told(picture(14.0, ring=16.0))
    at_arris, at_ring = (
        odds[np.rint(ARRIS_MM[REACHED] - off).astype(int), REACHED].mean() for off in (0.0, 3.0)
    )
    assert at_ring > 4.0  # it is a step all the same
    assert at_arris > at_ring + 2.0


@pytest.mark.parametrize("from_mm", [3.0, 6.0])
def test_the_edge_of_a_rule_beside_the_board_is_no_step_of_its_own(from_mm):
    """It lies before the foot here, so that the board shows no step at all."""
    view = picture(0.0)
    y, x = (np.arange(count) * MM for count in view.pixels.shape[:2])
    rule = y[:, None] > np.interp(x, S_MM, ARRIS_MM) + from_mm
    view = replace(view, pixels=np.where(rule[..., None], 250, view.pixels).astype(np.uint8))
    assert told(view).max() > 8.0
    assert told(replace(view, seen=~rule)).max() < 4.0


def test_steps_tell_nothing_where_the_map_leaves_the_saws_line_for_wane():
    wane = (S_MM > 200.0) & (S_MM < 260.0)
    odds = told(picture(14.0), np.where(wane, ARRIS_MM - 12.0, WAVERS_MM))
    assert (odds[:, wane] == 0.0).all()
    assert odds[:, ~wane][:, 8:-8].max(axis=0).min() > 4.0


def test_grain_alone_makes_no_place_beside_the_line_likely():
    # A foot's step alone counts 9.
    assert told(picture(0.0)).max() < 9.0 + 2.0
    assert told(picture(14.0)).max() > 9.0 + 6.0
