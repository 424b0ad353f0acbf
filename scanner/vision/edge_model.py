"""How much a place in a picture looks like an arris or a sawn end: fitted weights, two tables."""

import numpy as np
from numpy.typing import NDArray

# Written by tests/bench/fit_edges.py: piece of evidence, its mean and spread, weights of the
# standardised value and of its square. Fitted (a choice among all rows of a column, penalised
# maximum likelihood) on rendered photographs of 20 boards, both faces, of 0.7 to 1 mm per pixel.
Table = tuple[tuple[str, float, float, float, float], ...]

LONG_SIDE: Table = (
    ("step_thin", 0.9502, 1.094, -0.207, 0.142),
    ("step_wide", 1.652, 1.706, 0.930, -0.177),
    ("outside_unlike_wood", 2.221, 1.831, 1.124, -0.120),
    ("inside_unlike_wood", 1.971, 1.774, -1.061, 0.727),
    ("outside_unlike_floor", 1.533, 1.303, 0.236, 0.081),
    ("inside_unlike_floor", 1.677, 1.345, 1.082, 0.073),
    ("darker_outside", 0.02844, 1.358, 0.807, -0.048),
    ("texture_step", 0.6426, 0.7791, -0.280, -0.080),
    ("colour_step", 1.095, 1.27, -0.143, -0.010),
    ("long_step", 0.594, 0.7587, 2.080, -0.284),
    ("long_step_inward", 1.607, 1.411, -1.004, -0.007),
    ("long_step_outward", 1.942, 1.434, -0.318, 0.382),
    ("inside_unlike_deeper", 1.884, 1.732, -0.254, 0.291),
    ("outside_unlike_deeper", 2.391, 1.85, 0.166, -0.717),
    ("outside_texture", 0.2477, 1.454, 0.088, 0.085),
    ("place", 1.264, 0.7458, -2.977, -0.567),
)

END: Table = (
    ("step_thin", 0.8234, 1.203, -0.054, 0.169),
    ("step_wide", 1.373, 1.752, 0.639, 0.108),
    ("outside_unlike_wood", 2.295, 1.861, 0.287, -0.066),
    ("inside_unlike_wood", 2.068, 1.824, -0.273, 0.009),
    ("outside_unlike_floor", 1.862, 1.67, -0.189, -0.136),
    ("inside_unlike_floor", 2.073, 1.697, 1.607, -0.473),
    ("darker_outside", 0.1374, 1.141, 0.462, -0.025),
    ("texture_step", 0.5592, 0.7349, -0.112, -0.015),
    ("colour_step", 1.006, 1.415, 0.419, -0.093),
    ("long_step", 0.4049, 0.6963, 2.090, -0.187),
    ("long_step_inward", 1.229, 1.508, -0.776, 0.100),
    ("long_step_outward", 1.459, 1.44, -1.269, -0.419),
    ("inside_unlike_deeper", 1.531, 1.745, -0.614, 0.082),
    ("outside_unlike_deeper", 1.911, 1.867, 0.111, -0.537),
    ("outside_texture", 0.1766, 1.421, 0.161, 0.043),
    ("place", 1.264, 0.7461, -1.246, 0.135),
)


def arris_score(facts: NDArray[np.float32], table: Table) -> NDArray[np.float32]:
    """Return (T, S) scores of evidence (T, S, E); per column their exponents are odds."""
    mean, spread, linear, square = (
        np.array([row[column] for row in table], dtype=np.float32) for column in range(1, 5)
    )
    standard = np.clip((facts - mean) / spread, -3.0, 3.0)
    return np.asarray(standard @ linear + standard**2 @ square, dtype=np.float32)
