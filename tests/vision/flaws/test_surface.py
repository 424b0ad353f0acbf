import numpy as np
import pytest

from scanner.vision.flaws.surface import _wiped
from tests.vision.flaws.surfaces import Wood


@pytest.mark.parametrize("broad_mm", [4.0, 10.0, 16.0])
def test_beneath_a_stroke_however_broad_the_wood_goes_on_as_light_as_beside_it(broad_mm):
    wood = Wood(length_mm=200.0)
    lab = wood.surface().lab
    inside = np.abs(wood.y - 30.0) <= broad_mm / 2
    drawn = inside & (wood.x > 30.0) & (wood.x < 170.0)
    lab[drawn] = (95.0, 0.0, -20.0)
    wiped = _wiped(lab, np.ones(wood.shape, bool), drawn)
    beside = np.median(lab[~drawn], axis=0)
    assert np.abs(wiped[drawn] - beside).max() < 3.0
    assert np.array_equal(wiped[~drawn], lab[~drawn])


def test_a_face_painted_all_over_stays_as_it_is():
    lab = Wood(length_mm=100.0).surface().lab
    everywhere = np.ones(lab.shape[:2], bool)
    assert np.array_equal(_wiped(lab, everywhere, everywhere), lab)
