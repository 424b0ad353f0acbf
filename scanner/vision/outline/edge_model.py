"""How much a place in a picture looks like an arris or a sawn end: fitted weights, two tables."""

import numpy as np
from numpy.typing import NDArray

# By the method of tests/bench/fit.py: piece of evidence, its mean and spread, weights of the
# standardised value and of its square. Fitted (a choice among all rows of a column, penalised
# maximum likelihood) on rendered photographs of 41 boards of 0.8 to 1.5 mm per pixel.
Table = tuple[tuple[str, float, float, float, float], ...]

LONG_SIDE: Table = (
    ("step_thin", 0.9071, 1.018, -0.019, 0.073),
    ("step_wide", 1.424, 1.53, 0.537, 0.019),
    ("outside_unlike_wood", 1.895, 1.47, -0.519, 0.033),
    ("inside_unlike_wood", 1.733, 1.436, -1.090, -0.179),
    ("outside_unlike_floor", 1.836, 1.453, 0.452, 0.079),
    ("inside_unlike_floor", 1.982, 1.471, 1.859, -0.453),
    ("darker_outside", 0.03884, 1.252, 0.726, -0.137),
    ("texture_step", 2.223, 1.266, -0.027, -0.013),
    ("colour_step", 0.8947, 1.124, 0.139, -0.067),
    ("long_step", 0.5745, 0.7239, 1.171, -0.262),
    ("long_step_inward", 1.641, 1.398, -0.620, 0.142),
    ("long_step_outward", 1.608, 1.433, -0.166, 0.136),
    ("inside_unlike_deeper", 1.621, 1.599, -0.459, 0.192),
    ("outside_unlike_deeper", 2.012, 1.736, 0.439, -0.521),
    ("outside_texture", 0.335, 1.878, -0.223, 0.048),
    ("place", 1.493, 0.8803, -3.147, -0.631),
    ("foot_step", 0.7059, 0.8495, 1.072, -0.027),
    ("step_before_foot", 0.1908, 0.5867, -0.414, 0.018),
    ("past_foot_unlike_wood", 1.963, 1.478, 2.688, -0.268),
    ("past_foot_unlike_floor", 1.778, 1.443, 0.170, -0.693),
    ("before_foot_unlike_floor", 1.826, 1.45, -0.044, 0.112),
    ("arris_step_inward", 0.2961, 0.7059, 0.171, -0.108),
)

END: Table = (
    ("step_thin", 0.593, 0.8853, 0.335, 0.083),
    ("step_wide", 1.044, 1.395, 0.489, -0.156),
    ("outside_unlike_wood", 2.41, 1.742, -0.015, -0.004),
    ("inside_unlike_wood", 2.213, 1.727, -0.241, -0.226),
    ("outside_unlike_floor", 1.631, 1.406, -0.394, -0.030),
    ("inside_unlike_floor", 1.789, 1.442, 1.778, -0.555),
    ("darker_outside", 0.07753, 0.9539, 0.577, -0.039),
    ("texture_step", 1.939, 1.283, 0.044, -0.042),
    ("colour_step", 0.7207, 1.11, 0.144, 0.057),
    ("long_step", 0.3169, 0.5837, 1.243, -0.199),
    ("long_step_inward", 0.9851, 1.296, -0.342, 0.007),
    ("long_step_outward", 1.039, 1.285, -0.880, -0.187),
    ("inside_unlike_deeper", 1.26, 1.54, -0.578, 0.072),
    ("outside_unlike_deeper", 1.595, 1.71, 0.829, -0.380),
    ("outside_texture", 0.1671, 1.711, -0.022, 0.147),
    ("place", 1.511, 0.8972, -1.234, -0.152),
    ("foot_step", 0.3169, 0.5837, 1.243, -0.199),
    ("step_before_foot", 0, 0.001, 0.000, 0.000),
    ("past_foot_unlike_wood", 2.41, 1.742, -0.015, -0.004),
    ("past_foot_unlike_floor", 1.631, 1.406, -0.394, -0.030),
    ("before_foot_unlike_floor", 1.631, 1.406, -0.394, -0.030),
    ("arris_step_inward", 0, 0.001, 0.000, 0.000),
)


def arris_score(facts: NDArray[np.float32], table: Table) -> NDArray[np.float32]:
    """Return (T, S) scores of evidence (T, S, E); per column their exponents are odds."""
    mean, spread, linear, square = (
        np.array([row[column] for row in table], dtype=np.float32) for column in range(1, 5)
    )
    standard = np.clip((facts - mean) / spread, -3.0, 3.0)
    return np.asarray(standard @ linear + standard**2 @ square, dtype=np.float32)
