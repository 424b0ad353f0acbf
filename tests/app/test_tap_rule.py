import numpy as np
import pytest
from PIL import Image

from scanner.app.scanning.tap_rule import corners_text, refine_rule_taps
from scanner.errors import ScannerError
from scanner.files.typed import read_corners
from tests.vision.drawn import camera, rule_sheet, shoot

# Seconds: a picture is drawn.
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def tapped(tmp_path_factory):
    view = camera(tilt_deg=15.0, distance=800.0, aim=(300.0, 60.0), turn=0.15)
    path = tmp_path_factory.mktemp("tapped") / "rule.png"
    Image.fromarray(shoot(view, *rule_sheet(), shade=False)).save(path)
    corners = np.array([[0, -14, 0], [0, 14, 0], [609.6, 14, 0], [609.6, -14, 0.0]])
    return path, view.project(corners)


def _pairs(points):
    return tuple((float(x), float(y)) for x, y in points)


def test_tapped_corners_come_back_on_the_rule_and_can_be_given_to_a_scan(tapped):
    path, true = tapped
    taps = _pairs(true + np.array([[9.0, -11], [-12, 6], [4, 14], [-8, -8]]))
    corners = refine_rule_taps(path, "24in", taps)
    assert np.abs(np.array(corners) - true).max() < 1.0
    assert read_corners(corners_text(corners), "--corners1") == corners


@pytest.mark.parametrize(
    "taps",
    [
        ((1.0, 1.0), (2.0, 2.0), (3.0, 3.0)),
        ((700.0, 100.0),) * 4,
        ((50.0, 50.0), (50.0, 70.0), (500.0, 70.0), (500.0, 50.0)),
        ((float("nan"), 1.0), (1.0, 20.0), (300.0, 20.0), (300.0, 1.0)),
    ],
)
def test_taps_that_show_no_rule_are_answered_with_what_to_do(tapped, taps):
    with pytest.raises(ScannerError, match="corners"):
        refine_rule_taps(tapped[0], "24in", taps)
