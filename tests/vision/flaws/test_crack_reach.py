import numpy as np
import pytest

from scanner.vision.flaws.crack_reach import Reach, darkness_across, line_maps, reach_of, run_words
from scanner.vision.flaws.learned_regions import Region
from scanner.vision.flaws.surface import WORK_MM_PER_PX
from tests.vision.flaws.surfaces import CLEAR, Wood


def reach(wood, y, seen_mm, at_end="left"):
    """Follow a crack of which so much is plainly seen."""
    surface = wood.surface()
    row, width = round(y / WORK_MM_PER_PX) - 1, round(seen_mm / WORK_MM_PER_PX)
    column = 0 if at_end == "left" else wood.shape[1] - width
    region = Region(row, column, np.ones((3, width), bool))
    share = np.zeros(wood.shape, np.float32)
    return reach_of(region, surface, line_maps(surface), share, at_end)


def test_a_crack_thinner_than_a_pixel_darkens_by_its_width():
    wood = Wood(noise=0.0)
    wood.crack(30, 1e6, 0.2)
    dark = darkness_across(wood.light.astype(np.float32))
    assert dark[60, 300] == pytest.approx(0.95 * 0.2, abs=0.01)
    assert wood.light[60].min() > 0.5 * CLEAR


@pytest.mark.parametrize("at_end", ["left", "right"])
@pytest.mark.parametrize("true", [80.0, 150.0])
def test_a_crack_is_followed_beyond_what_is_plainly_seen(true, at_end):
    wood = Wood(length_mm=500)
    wood.crack(30, true, 0.9, from_right=at_end == "right")
    found = reach(wood, 30, 0.6 * true, at_end)
    assert found.tip_mm == pytest.approx(true, abs=0.12 * true)
    assert found.low_mm < true < found.high_mm
    ends = found.path[[0, -1], 0] * WORK_MM_PER_PX
    assert abs(ends[1] - ends[0]) == pytest.approx(found.tip_mm, abs=3)


def test_a_crack_that_is_all_seen_is_not_made_longer():
    wood = Wood(length_mm=500)
    wood.crack(30, 100, 1.2)
    assert reach(wood, 30, 98).tip_mm == pytest.approx(100, abs=8)


def test_a_dark_line_that_runs_on_all_along_is_not_the_crack():
    wood = Wood(length_mm=500)
    for y in (8, 19, 30, 41, 52):
        wood.pore_line(y, 0.25)
    wood.crack(30, 100, 1.2)
    assert reach(wood, 30, 95).tip_mm < 150


def test_a_clean_board_gives_no_reach_beyond_what_was_taken_for_a_crack():
    wood = Wood(length_mm=500, noise=0.04)
    assert reach(wood, 30, 40).tip_mm < 80


def test_worse_sight_gives_a_wider_interval():
    spans = []
    for noise in (0.02, 0.15):
        wood = Wood(length_mm=500, noise=noise)
        wood.crack(30, 120, 0.6)
        found = reach(wood, 30, 70)
        spans.append(found.high_mm - found.low_mm)
    assert spans[1] > spans[0]


@pytest.mark.parametrize(
    ("tip", "low", "high", "told", "words"),
    [
        (100, 90, 112, 100, ", reaches 100 mm (give or take 12)"),
        (100, 90, 150, 100, ", reaches 100 mm (give or take 50), may run further"),
        # Drawn further than the tip is likely to lie: that may be too far, no further.
        (60, 40, 75, 80, ", reaches 80 mm (give or take 40)"),
        (60, 0, 120, 60, ", reaches 60 mm (give or take 60), may run further"),
        (3, 0, 333, 3, ", how far it runs is not known"),
        (3, 0, 333, 121, ", how far it runs is not known"),
    ],
)
def test_a_reach_less_sure_than_it_is_long_is_told_without_millimetres(tip, low, high, told, words):
    assert run_words(Reach(tip, low, high, np.zeros((2, 2))), told) == words
