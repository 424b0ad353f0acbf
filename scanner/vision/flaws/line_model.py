"""How much a thin dark line looks like a crack: a logistic model over its measures."""

import numpy as np
from numpy.typing import NDArray

from scanner.vision.flaws.spot_model import odds

# By the method of tests/bench/fit.py: measure, its middle and half-spread among lines, weights of
# the standardised measure and of its square less one. Fitted on rendered faces of three hardwoods
# (seeds 1000-1019 and 1100-1122).
_OFFSET = -7.541
_MODEL: tuple[tuple[str, float, float, float, float], ...] = (
    ("log_length", 3.512, 0.8047, 0.887, -0.550),
    ("contrast", 2.956, 0.5999, 0.759, 0.067),
    ("contrast_peak", 3.602, 0.7388, 0.125, -0.068),
    ("drop", 0.1322, 0.0927, -0.153, -0.297),
    ("drop_peak", 0.1857, 0.1155, 0.461, 0.515),
    ("width", 2.122, 0.7154, -1.475, -0.014),
    ("at_end", 0, 0.001, 0.079, 0.232),
    ("darkness", 0.1611, 0.1278, -0.166, 0.158),
    ("crowd", 0.0378, 0.01896, 0.524, -0.191),
    ("waviness", 0.1228, 0.0539, 1.001, -0.292),
    ("depth", 3.648, 1.379, 0.133, 0.153),
    ("fades", 1.001, 1.124, -0.156, 0.090),
)


def crack_odds(measures: NDArray[np.float64], names: tuple[str, ...]) -> NDArray[np.float64]:
    """Return for lines (N, len(names)) how likely each is a crack, 0 to 1."""
    return odds(_OFFSET, _MODEL, measures, names)
