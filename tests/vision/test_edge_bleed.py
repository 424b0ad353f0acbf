"""By how much a rule's edges are seen outside its own follows from how it stands out."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from scanner.vision.cv import Bytes
from scanner.vision.evidence.seen import SeenRule
from scanner.vision.fit.references import rule_reference
from scanner.vision.rule.edge_bleed import bleed_of_edges
from scanner.vision.setup import RuleSize

WIDE = 36.0


def seen_bar(sides: tuple[float, ...] = (-1.0, 1.0)) -> SeenRule:
    """A bar along x, its middle line at y = 100 px; up is up in the picture."""
    x = np.linspace(40, 360, 12)
    rows = [(a, 100 - side * WIDE / 2, side) for side in sides for a in x]
    table = np.array(rows)
    side = table[:, 2]
    return SeenRule(
        points_mm=np.column_stack([table[:, 0], side * 14]),
        signs=np.column_stack([np.zeros(len(side)), side]),
        pixels=table[:, :2],
        directions=np.tile([0.0, -1.0], (len(side), 1)),
        sd_px=np.full(len(side), 0.35),
        corners=np.zeros((4, 2)),
        length_mm=320.0,
        width_mm=28.0,
        ticks=10,
    )


def picture(bar: int, above: int, below: int) -> np.ndarray:
    """A bar on its ground, a dark line of shadow round it."""
    grey = np.full((200, 400), above, dtype=np.uint8)
    grey[100:] = below
    grey[79:121] = 40
    grey[82:118] = bar
    return grey


def test_a_bright_rule_ends_where_its_brightness_does() -> None:
    bleed = bleed_of_edges(picture(200, 120, 130), seen_bar())
    assert bleed is not None
    assert bleed.value_mm[1] == pytest.approx(0.0)
    assert bleed.sd_mm[1] < 0.5


def test_a_dark_rule_is_seen_wider_by_the_shadow_round_it() -> None:
    bleed = bleed_of_edges(picture(100, 150, 160), seen_bar())
    assert bleed is not None
    assert bleed.value_mm[1] > bleed.sd_mm[1] > 0.5


@pytest.mark.parametrize("wide", [0.01, 0.0, -1.0], ids=["on each other", "as one", "crossed"])
def test_a_bar_whose_long_edges_lie_on_or_past_each_other_tells_nothing_of_them(
    wide: float,
) -> None:
    bar = seen_bar()
    pixels = np.array([0.0, 100.0]) + np.array([1.0, wide]) * (bar.pixels - np.array([0.0, 100.0]))
    assert bleed_of_edges(picture(200, 120, 130), replace(bar, pixels=pixels)) is None


def banded(inner: int) -> np.ndarray:
    """A bright bar, and past its upper edge 5 px of grey: its own lines, too close to be parted."""
    grey = picture(200, 60, 60)
    grey[77:82] = inner
    return grey


def blurred(grey: np.ndarray, sd_px: float) -> Bytes:
    return np.asarray(cv2.GaussianBlur(grey, (0, 0), sd_px), dtype=np.uint8)


def test_lines_too_close_to_be_parted_are_the_rules_own_past_the_edge_where_they_end() -> None:
    bleed = bleed_of_edges(banded(100), seen_bar())
    assert bleed is not None
    # Five of 36 px are 3.9 mm, half of it a side.
    assert bleed.value_mm[1] == pytest.approx(-3.9 / 2, abs=0.3)
    # The grey may be no rule's: then the edges lie where they are seen.
    assert 2 * bleed.sd_mm[1] > abs(bleed.value_mm[1])


def test_ground_that_is_brighter_next_to_a_shadow_is_not_the_rules_own() -> None:
    grey = banded(100)
    grey[80:82] = 40
    bleed = bleed_of_edges(grey, seen_bar())
    assert bleed is not None
    assert bleed.value_mm[1] == pytest.approx(0.0)


@pytest.mark.parametrize("sd_px", [1.0, 2.0, 3.0])
def test_a_blurred_edge_is_no_band_of_the_rules_own(sd_px: float) -> None:
    grey = np.full((200, 400), 60, dtype=np.uint8)
    grey[82:119] = 200
    bleed = bleed_of_edges(blurred(grey, sd_px), seen_bar())
    assert bleed is not None
    assert bleed.value_mm[1] == pytest.approx(0.0)


def test_a_band_is_told_though_the_picture_is_a_little_soft() -> None:
    bleed = bleed_of_edges(blurred(banded(100), 1.0), seen_bar())
    assert bleed is not None
    assert bleed.value_mm[1] == pytest.approx(-3.9 / 2, abs=0.5)


@pytest.mark.parametrize("beside", [40, 60, 66])
def test_shadow_and_ground_beside_an_edge_are_not_the_rules_own(beside: int) -> None:
    bleed = bleed_of_edges(banded(beside), seen_bar())
    assert bleed is not None
    assert bleed.value_mm[1] == pytest.approx(0.0)


@pytest.mark.parametrize(("above", "below"), [(190, 120), (120, 190), (205, 205), (120, 230)])
def test_a_rule_that_hardly_stands_out_on_one_side_tells_nothing(above: int, below: int) -> None:
    assert bleed_of_edges(picture(200, above, below), seen_bar()) is None


def test_one_edge_alone_tells_nothing() -> None:
    assert bleed_of_edges(picture(200, 120, 130), seen_bar((1.0,))) is None


def test_a_rule_on_which_the_photo_tells_nothing_keeps_the_wide_guess() -> None:
    reference = rule_reference(RuleSize(320.0, 28.0), seen_bar(), 0, on_face=False)
    assert reference.bleed_mm == (0.0, 0.0)
    assert reference.sd_bleed == (0.4, 0.8)
