"""How much a thin dark line looks like a crack: a logistic model over its measures."""

import numpy as np
from numpy.typing import NDArray

# Written by tests/bench/fit_lines.py: measure, its middle and half-spread among lines, weights of
# the standardised measure and of its square less one. Fitted on rendered faces of three hardwoods
# (seeds 1000-1019 and 1100-1122).
_OFFSET = -7.961
_MODEL: tuple[tuple[str, float, float, float, float], ...] = (
    ("log_length", 3.829, 0.9491, 0.774, -0.732),
    ("contrast", 2.739, 0.3669, 0.270, 0.191),
    ("contrast_peak", 3.475, 0.6057, 0.144, 0.068),
    ("drop", 0.1076, 0.06365, 0.263, -0.227),
    ("drop_peak", 0.1613, 0.09343, 0.437, 0.210),
    ("width", 2.088, 0.7077, -1.360, -0.072),
    ("at_end", 0, 0.001, 0.076, 0.226),
    ("darkness", 0.1375, 0.1109, -0.165, 0.176),
    ("crowd", 0.03406, 0.01597, 0.780, -0.195),
    ("waviness", 0.1406, 0.05595, 0.325, -0.195),
)


def crack_odds(measures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for lines (N, len(LINE_FEATURES)) how likely each is a crack, 0 to 1."""
    middle, spread, linear, square = (
        np.array([row[column] for row in _MODEL], dtype=np.float64) for column in range(1, 5)
    )
    standard = np.clip((measures - middle) / spread, -3.0, 3.0)
    evidence = _OFFSET + standard @ linear + (standard**2 - 1.0) @ square
    return np.asarray(1.0 / (1.0 + np.exp(-evidence)), dtype=np.float64)
