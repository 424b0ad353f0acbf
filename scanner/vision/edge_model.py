"""How much a place in a picture looks like an arris or a sawn end: fitted weights, two tables."""

import numpy as np
from numpy.typing import NDArray

# Written by tests/bench/fit_edges.py: piece of evidence, its mean and spread, weights of the
# standardised value and of its square. Fitted (a choice among all rows of a column, penalised
# maximum likelihood) on rendered photographs of 20 boards, both faces, of 0.7 to 1 mm per pixel.
Table = tuple[tuple[str, float, float, float, float], ...]

LONG_SIDE: Table = (
    ("step_thin", 0.9589, 1.081, -0.295, 0.216),
    ("step_wide", 1.611, 1.691, 1.277, -0.372),
    ("outside_unlike_wood", 2.179, 1.801, -0.098, 0.214),
    ("inside_unlike_wood", 1.928, 1.75, -0.843, 0.554),
    ("outside_unlike_floor", 1.921, 1.6, 0.215, 0.137),
    ("inside_unlike_floor", 2.122, 1.621, 1.342, -0.536),
    ("darker_outside", 0.04316, 1.298, 0.755, 0.027),
    ("texture_step", 0.6338, 0.76, -0.181, -0.046),
    ("colour_step", 1.115, 1.304, -0.774, 0.196),
    ("long_step", 0.5866, 0.7347, 2.373, -0.357),
    ("long_step_inward", 1.637, 1.418, -0.886, 0.130),
    ("long_step_outward", 1.866, 1.409, 0.040, 0.296),
    ("inside_unlike_deeper", 1.881, 1.736, -0.483, 0.171),
    ("outside_unlike_deeper", 2.353, 1.843, 1.505, -0.856),
    ("outside_texture", 0.1831, 1.448, -0.009, 0.110),
    ("place", 1.31, 0.8139, -2.602, -0.754),
)

END: Table = (
    ("step_thin", 0.8248, 1.199, 0.340, 0.074),
    ("step_wide", 1.378, 1.738, 0.469, -0.235),
    ("outside_unlike_wood", 2.307, 1.829, -0.009, 0.216),
    ("inside_unlike_wood", 2.067, 1.795, 0.062, 0.015),
    ("outside_unlike_floor", 2.052, 1.799, -1.040, -0.386),
    ("inside_unlike_floor", 2.295, 1.817, 2.259, -0.882),
    ("darker_outside", 0.1089, 1.092, 0.404, 0.027),
    ("texture_step", 0.5543, 0.7112, -0.119, 0.013),
    ("colour_step", 1.029, 1.435, -0.183, 0.061),
    ("long_step", 0.4225, 0.7235, 1.910, -0.159),
    ("long_step_inward", 1.285, 1.537, -0.218, -0.167),
    ("long_step_outward", 1.512, 1.465, -1.013, 0.018),
    ("inside_unlike_deeper", 1.576, 1.765, -0.177, 0.172),
    ("outside_unlike_deeper", 1.968, 1.889, 0.682, -0.215),
    ("outside_texture", 0.1651, 1.407, 0.472, -0.001),
    ("place", 1.302, 0.8036, -0.902, -0.218),
)


def arris_score(facts: NDArray[np.float32], table: Table) -> NDArray[np.float32]:
    """Return (T, S) scores of evidence (T, S, E); per column their exponents are odds."""
    mean, spread, linear, square = (
        np.array([row[column] for row in table], dtype=np.float32) for column in range(1, 5)
    )
    standard = np.clip((facts - mean) / spread, -3.0, 3.0)
    return np.asarray(standard @ linear + standard**2 @ square, dtype=np.float32)
