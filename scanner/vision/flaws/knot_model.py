"""How much a spot looks like a knot: a logistic model over its measures, fitted once."""

import numpy as np
from numpy.typing import NDArray

# Written by tests/bench/fit_knots.py: measure, its median and half-spread among spots, weights of
# the standardised measure and of its square less one. Fitted on 119 pictures of sawn softwood (91 boards).
_OFFSET = -6.157
_MODEL: tuple[tuple[str, float, float, float, float], ...] = (
    ("log_size", 1.834, 0.6355, 1.376, -0.491),
    ("darker", 4.205, 3.02, -1.657, 0.083),
    ("darker_peak", 5.494, 4.934, 3.504, -0.786),
    ("around", 2.889, 2.145, -0.104, -0.155),
    ("tint", 3.063, 1.984, 0.009, -0.109),
    ("redder", 1.121, 1.181, 0.411, -0.195),
    ("yellower", -0.5949, 2.9, -0.981, -0.034),
    ("step", 0.86, 0.7149, -0.752, 0.168),
    ("solidity", 0.9122, 0.05834, 0.549, 0.051),
    ("roundness", 0.5567, 0.2526, -0.131, 0.529),
    ("along", 0.3, 0.6162, -0.829, -0.683),
    ("swirl", 0.01502, 0.04476, 0.112, -0.110),
    ("turn", 0.1475, 0.0869, 0.349, -0.158),
    ("disorder", 0.5343, 0.3172, 1.631, -1.394),
    ("beyond", 3.183, 3.183, 3.248, -0.473),
    ("at_edge", 0, 0.001, -0.007, 0.001),
    ("texture", 1.742, 1.016, 0.371, -0.103),
)


def knot_scores(measures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for spots (N, len(FEATURES)) how likely each is a knot, 0 to 1."""
    middle, spread, linear, square = (
        np.array([row[column] for row in _MODEL], dtype=np.float64) for column in range(1, 5)
    )
    standard = np.clip((measures - middle) / spread, -3.0, 3.0)
    evidence = _OFFSET + standard @ linear + (standard**2 - 1.0) @ square
    return np.asarray(1.0 / (1.0 + np.exp(-evidence)), dtype=np.float64)
