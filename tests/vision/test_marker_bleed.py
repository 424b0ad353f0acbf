import cv2
import numpy as np
import pytest

from scanner.geometry.strip_layout import MARKER_MM, corners_mm
from scanner.vision.cv import code_modules
from scanner.vision.evidence.seen import Bleed
from scanner.vision.fit.assemble import _bleed
from scanner.vision.rule.marker_bleed import bleed_sd_mm, measure_bleed

# Printed at 8 px a mm, seen at 1 px a mm: modules are 6 px wide.
_DENSITY = 8
_IDS = np.arange(10)


def _print(bleed_px):
    """Return ten markers whose black reaches so far over its edges, 1/8 mm, along and across."""
    sheet = np.full((60 * _DENSITY, 500 * _DENSITY), 235, np.uint8)
    side = int(MARKER_MM) * _DENSITY
    for number in _IDS:
        code = np.kron(code_modules(int(number)), np.ones((side // 6, side // 6))) * 205 + 30
        x = round((50 * number + 7) * _DENSITY)
        sheet[12 * _DENSITY : 12 * _DENSITY + side, x : x + side] = code
    for axis, reach in enumerate(bleed_px):
        brush = np.ones((2 * abs(reach) + 1, 1) if axis else (1, 2 * abs(reach) + 1), np.uint8)
        sheet = cv2.erode(sheet, brush) if reach > 0 else cv2.dilate(sheet, brush)
    return sheet


def _seen(bleed_px, shrink=_DENSITY):
    sheet = _print(bleed_px)
    small = cv2.resize(sheet, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    grey = cv2.GaussianBlur(small, (0, 0), 0.7)
    noisy = grey + np.random.default_rng(0).normal(0, 2, grey.shape)
    mm = np.array([corners_mm(int(number)) for number in _IDS]) * [1, -1] + [0, 30]
    return noisy.clip(0, 255).astype(np.uint8), mm * _DENSITY / shrink - 0.5


@pytest.mark.parametrize("bleed_px", [(2, -1), (-2, 2), (0, 3)])
def test_the_codes_tell_how_far_ink_bleeds_each_way(bleed_px):
    found = measure_bleed(_seen(bleed_px)[0], _IDS, _seen(bleed_px)[1])
    assert found is not None
    off = np.array(found.value_mm) - np.array(bleed_px) / _DENSITY
    assert 1e-6 < np.abs(off).max() < 0.05


def test_corners_that_moved_with_the_bleed_tell_the_same():
    grey, corners = _seen((2, -1))
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    moved = measure_bleed(grey, _IDS, corners + signs * np.array([0.25, -0.125]))
    still = measure_bleed(grey, _IDS, corners)
    assert moved is not None and still is not None
    assert moved.value_mm == pytest.approx(still.value_mm, abs=0.02)


def test_markers_too_small_to_part_their_modules_tell_nothing():
    assert measure_bleed(*_by_ids(*_seen((2, 2), shrink=16))) is None
    assert measure_bleed(*_by_ids(*_seen((2, 2)), few=3)) is None


def _by_ids(grey, corners, few=None):
    return grey, _IDS[:few], corners[:few]


def test_narrow_modules_tell_bleed_less_surely():
    assert bleed_sd_mm(4.0) > 2 * bleed_sd_mm(8.0) > 0.05


def test_what_the_codes_tell_becomes_the_prior_of_bleed():
    assert _bleed([]) == {}
    prior = _bleed([Bleed((0.2, 0.1), (0.03, 0.03)), Bleed((0.2, 0.1), (0.3, 0.3))])
    assert prior["bleed_mm"] == pytest.approx((0.2, -0.1))
    # Two readings of the same codes err alike: together they are no surer than the better one.
    assert prior["sd_bleed"][1] == pytest.approx(0.03 * 2**0.5)
