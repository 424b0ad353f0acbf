"""How much a bar looks like the whole board, and like a board at all: fitted weights."""

import numpy as np
from numpy.typing import NDArray

# Pieces of evidence as `bar_facts.FACTS`: name, mean and spread, weights of the standardised value
# and of its square. Fitted by penalised maximum likelihood on rendered photographs of 41 boards:
# CHOICE which bar of a picture overlaps the face best, BOARD whether a bar is a board at all
# (second boards laid into 13 of the pictures among them).
Table = tuple[tuple[str, float, float, float, float], ...]

CHOICE: Table = (
    ("weaker_line", 3.252, 1.209, 0.275, 0.209),
    ("stronger_line", 5.137, 0.9032, 0.260, 0.059),
    ("line_gaps", 0.4388, 0.2572, -0.099, -0.062),
    ("unlike_rim", 0.5727, 0.2702, 0.753, 0.354),
    ("unlike_rest", 0.8446, 0.2307, 0.090, -0.112),
    ("rims_alike", 0.4903, 0.3537, -0.599, -0.012),
    ("inner_line", 3.225, 1.159, -0.087, -0.174),
    ("grain", 0.9286, 0.918, 0.206, -0.114),
    ("weaker_end", 0.8083, 0.2551, 0.082, 0.057),
    ("stronger_end", 0.9107, 0.2043, 0.112, -0.178),
    ("width", -0.1345, 0.4688, 0.394, -0.252),
    ("length", 0.169, 0.2082, 0.163, -0.173),
    ("gap_to_rule", 1.158, 0.555, 0.012, -0.437),
    ("beside_rule", 0.9959, 0.05503, 0.054, -0.128),
    ("columns_like_wood", 0.9871, 0.04732, -0.084, -0.058),
    ("lighter", 1.482, 2.392, 0.301, 0.153),
    ("redder", 2.249, 2.898, 0.106, 0.138),
    ("yellower", 0.2124, 2.627, 0.145, 0.147),
)
BOARD_OFFSET = -2.640
BOARD: Table = (
    ("weaker_line", 2.995, 1.465, -0.348, -0.106),
    ("stronger_line", 5.122, 0.9161, 0.186, 0.090),
    ("line_gaps", 0.5, 0.3107, -0.472, 0.154),
    ("unlike_rim", 0.4681, 0.336, 2.883, 0.588),
    ("unlike_rest", 0.6815, 0.3584, 1.602, -1.058),
    ("rims_alike", 0.4648, 0.3663, -3.081, -0.324),
    ("inner_line", 2.892, 1.31, -0.002, 0.023),
    ("grain", 0.6899, 0.9102, 0.743, 1.039),
    ("weaker_end", 0.6654, 0.3626, 0.365, -0.465),
    ("stronger_end", 0.7608, 0.3402, 0.329, -0.926),
    ("width", -0.0934, 0.5497, 3.012, -1.715),
    ("length", 0.01885, 0.4406, -0.127, -0.555),
    ("gap_to_rule", 1.677, 1.443, -0.948, 0.095),
    ("beside_rule", 0.9641, 0.1389, 0.598, -1.267),
    ("columns_like_wood", 0.9341, 0.1241, -0.021, 0.067),
    ("lighter", 1.117, 2.208, 0.930, 0.059),
    ("redder", 1.563, 2.659, 0.277, 0.128),
    ("yellower", 0.1924, 2.256, 0.200, -0.230),
)


def weighed(facts: NDArray[np.float64], table: Table) -> NDArray[np.float64]:
    """Return the weighted sums (...,) of facts (..., F) by a table's weights."""
    mean, spread, linear, square = (
        np.array([row[column] for row in table]) for column in range(1, 5)
    )
    standard = np.clip((facts - mean) / spread, -3.0, 3.0)
    return np.asarray(standard @ linear + standard**2 @ square)
