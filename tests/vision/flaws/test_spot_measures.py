from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.flaws.spot_measures import FEATURES, measured
from tests.vision.flaws.surfaces import Wood


def disc(size):
    y, x = np.indices((size, size)) - (size - 1) / 2
    return np.hypot(x, y) < size / 2


def test_measures_of_a_spot_do_not_depend_on_the_others():
    surface = Wood().surface()
    pieces = [(20, 40, disc(12)), (30, 90, disc(21)), (50, 60, np.ones((3, 17), bool))]
    together = [measures for _, measures in measured(surface, pieces)]
    alone = [next(measured(surface, [piece]))[1] for piece in pieces]
    assert np.array(together) == pytest.approx(np.array(alone), rel=1e-6, abs=1e-9)


def test_a_bar_is_long_and_thin_and_as_dark_as_its_pixels():
    plain = Wood().surface()
    dark = np.random.default_rng(3).random(plain.wood.shape, dtype=np.float32)
    surface = replace(plain, darker=dark)
    bar = np.ones((3, 17), bool)
    ((_, measures),) = measured(surface, [(50, 60, bar)])
    found = dict(zip(FEATURES, measures, strict=True))
    own = dark[50:53, 60:77]
    assert found["darker"] == pytest.approx(own.mean(), abs=1e-6)
    assert found["darker_peak"] == pytest.approx(np.percentile(own, 90), abs=1e-6)
    assert found["solidity"] == pytest.approx(1.0)
    # Deviations of 17 and of 3 pixels in a row.
    assert found["roundness"] == pytest.approx(np.sqrt(3**2 - 1) / np.sqrt(17**2 - 1), abs=0.04)


def test_a_spot_with_hardly_any_wood_round_it_is_not_measured():
    surface = Wood().surface()
    surface.wood[:] = False
    assert not list(measured(surface, [(20, 40, disc(12))]))
