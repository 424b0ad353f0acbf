"""How much too large the outline's labels are painted, as the tracing of outlines reckons with."""

import numpy as np
import pytest

from scanner.vision.outline.face_map import LABEL_RIM_MM, MM_PER_PX
from tests.bench.learn_outlines import _painted


def test_labels_are_painted_too_large_by_what_tracing_takes_back():
    rims = []
    for off in np.arange(0.0, 1.0, 0.07):
        ring = np.array([[10, 10], [50, 10.9], [50, 40.9], [10, 40]]) + off
        painted = _painted([ring], (60, 70)) / 255.0
        rims.append((painted[:, 15:45].sum(axis=0).mean() - 30.0) / 2 * MM_PER_PX)
    assert np.mean(rims) == pytest.approx(LABEL_RIM_MM, abs=0.005)
