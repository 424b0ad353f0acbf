"""How much a place in a picture looks like an arris or a sawn end: fitted weights, two tables."""

import numpy as np
from numpy.typing import NDArray

# By the method of tests/bench/fit.py: piece of evidence, its mean and spread, weights of the
# standardised value and of its square. Fitted (a choice among all rows of a column, penalised
# maximum likelihood) on rendered photographs of 20 boards, both faces, of 0.7 to 1 mm per pixel.
Table = tuple[tuple[str, float, float, float, float], ...]

LONG_SIDE: Table = (
    ("step_thin", 0.9589, 1.081, -0.251, 0.207),
    ("step_wide", 1.611, 1.691, 0.641, -0.157),
    ("outside_unlike_wood", 2.179, 1.801, -0.243, 0.337),
    ("inside_unlike_wood", 1.928, 1.75, -1.033, 0.513),
    ("outside_unlike_floor", 1.921, 1.6, 0.220, 0.093),
    ("inside_unlike_floor", 2.122, 1.621, 1.436, -0.656),
    ("darker_outside", 0.04316, 1.298, 0.737, -0.002),
    ("texture_step", 0.6338, 0.76, -0.177, -0.036),
    ("colour_step", 1.115, 1.304, 0.097, 0.039),
    ("long_step", 0.5866, 0.7347, 2.160, -0.322),
    ("long_step_inward", 1.637, 1.418, -0.727, 0.074),
    ("long_step_outward", 1.866, 1.409, -0.311, 0.340),
    ("inside_unlike_deeper", 1.881, 1.736, -0.311, 0.137),
    ("outside_unlike_deeper", 2.353, 1.843, 1.057, -0.762),
    ("outside_texture", 0.1831, 1.448, 0.173, 0.061),
    ("place", 1.346, 0.8543, -2.636, -0.882),
    ("side_foot_step", 0.3688, 0.7718, 0.841, 0.277),
    ("arris_step_inward", 0.3251, 0.7244, -0.320, 0.057),
)

END: Table = (
    ("step_thin", 0.8248, 1.199, 0.370, 0.068),
    ("step_wide", 1.378, 1.738, 0.432, -0.227),
    ("outside_unlike_wood", 2.307, 1.829, 0.143, 0.143),
    ("inside_unlike_wood", 2.067, 1.795, 0.129, 0.017),
    ("outside_unlike_floor", 2.052, 1.799, -1.079, -0.394),
    ("inside_unlike_floor", 2.295, 1.817, 2.123, -0.801),
    ("darker_outside", 0.1089, 1.092, 0.412, 0.032),
    ("texture_step", 0.5543, 0.7112, -0.112, 0.012),
    ("colour_step", 1.029, 1.435, -0.115, 0.039),
    ("long_step", 0.4225, 0.7235, 1.862, -0.156),
    ("long_step_inward", 1.285, 1.537, -0.195, -0.179),
    ("long_step_outward", 1.512, 1.465, -1.052, 0.043),
    ("inside_unlike_deeper", 1.576, 1.765, -0.206, 0.161),
    ("outside_unlike_deeper", 1.968, 1.889, 0.493, -0.217),
    ("outside_texture", 0.1651, 1.407, 0.491, -0.003),
    ("place", 1.303, 0.8036, -1.598, -0.522),
    ("side_foot_step", 4.525e-05, 0.00626, -0.000, -0.000),
    ("arris_step_inward", 3.576e-05, 0.005696, -0.000, -0.000),
)


def arris_score(facts: NDArray[np.float32], table: Table) -> NDArray[np.float32]:
    """Return (T, S) scores of evidence (T, S, E); per column their exponents are odds."""
    mean, spread, linear, square = (
        np.array([row[column] for row in table], dtype=np.float32) for column in range(1, 5)
    )
    standard = np.clip((facts - mean) / spread, -3.0, 3.0)
    return np.asarray(standard @ linear + standard**2 @ square, dtype=np.float32)
