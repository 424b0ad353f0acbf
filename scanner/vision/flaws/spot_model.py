"""What a spot is: logistic models over its measures, fitted once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Model:
    """An offset and for each measure its middle, half-spread and two weights.

    The weights are those of the standardised measure and of its square less one.
    """

    offset: float
    rows: tuple[tuple[str, float, float, float, float], ...]

    def odds(self, measures: NDArray[np.float64], names: tuple[str, ...]) -> NDArray[np.float64]:
        """Return for spots (N, len(names)) how likely the model's claim is, 0 to 1."""
        return odds(self.offset, self.rows, measures, names)


def odds(
    offset: float,
    rows: tuple[tuple[str, float, float, float, float], ...],
    measures: NDArray[np.float64],
    names: tuple[str, ...],
) -> NDArray[np.float64]:
    """Return how likely each row of measures (N, len(names)) is what the rows were fitted to."""
    used = measures[:, [names.index(row[0]) for row in rows]]
    middle, spread, linear, square = (
        np.array([row[column] for row in rows], dtype=np.float64) for column in range(1, 5)
    )
    standard = np.clip((used - middle) / spread, -3.0, 3.0)
    evidence = offset + standard @ linear + (standard**2 - 1.0) @ square
    return np.asarray(1.0 / (1.0 + np.exp(-evidence)), dtype=np.float64)


# By the method of tests/bench/fit.py. Fitted on 76 pictures of real sawn softwood (training boards
# only) and on rendered faces of three hardwoods (seeds 1000-1019 and 1100-1122).
# A spot is a knot, a hole or a bark pocket, and not just dark wood, dirt or shadow.
FLAW = Model(
    -6.947,
    (
        ("log_size", 1.759, 0.6247, 2.084, -0.440),
        ("darker", 3.713, 2.883, -0.028, -0.295),
        ("darker_peak", 4.876, 4.63, 2.097, -0.270),
        ("around", 2.892, 1.992, -0.705, 0.228),
        ("tint", 2.86, 2.032, 0.499, -0.621),
        ("redder", 0.6822, 1.169, 0.210, -0.140),
        ("yellower", -0.2314, 2.419, -0.647, 0.126),
        ("step", 0.8646, 0.7209, -0.363, 0.197),
        ("solidity", 0.9122, 0.05703, 0.643, 0.027),
        ("roundness", 0.5266, 0.2517, 0.172, 0.570),
        ("along", 0.4785, 0.6604, -0.745, -0.529),
        ("swirl", 0.01203, 0.03684, 0.253, -0.057),
        ("turn", 0.1248, 0.0854, 0.438, -0.140),
        ("disorder", 0.3786, 0.3226, 1.565, -0.376),
        ("beyond", 2.995, 2.992, 2.414, -0.575),
        ("at_edge", 0, 0.001, -0.046, -0.114),
        ("texture", 1.81, 1.079, 0.373, -0.112),
    ),
)

# A spot that is one of these is a hole; is a bark pocket; a knot is loose, hollow or cracked.
HOLE = Model(
    -7.979,
    (
        ("log_size", 2.4, 0.621, -0.507, 0.093),
        ("darker", 7.942, 3.27, 0.148, -0.270),
        ("darker_peak", 12.56, 4.478, 0.378, 0.270),
        ("around", 4.904, 2.089, 0.002, 0.128),
        ("tint", 4.296, 1.774, -0.029, 0.037),
        ("redder", 1.411, 1.374, -0.777, 0.342),
        ("yellower", -4.392, 3.189, 0.147, -0.260),
        ("step", 1.548, 0.9399, -0.081, -0.035),
        ("solidity", 0.939, 0.0512, -0.031, -0.110),
        ("roundness", 0.7464, 0.1781, 0.357, 0.180),
        ("along", 0.03479, 0.2645, -0.057, -0.260),
        ("swirl", 0.06733, 0.0699, -0.204, -0.347),
        ("turn", 0.1808, 0.06523, -0.858, 0.602),
        ("disorder", 0.7541, 0.1272, -0.154, -0.186),
        ("beyond", 7.283, 2.796, -0.112, 0.072),
        ("at_edge", 0, 0.001, -0.049, -0.146),
        ("texture", 2.534, 1.257, 0.160, 0.463),
    ),
)
BARK_POCKET = Model(
    -9.985,
    (
        ("log_size", 2.4, 0.621, 0.193, -0.231),
        ("darker", 7.942, 3.27, -0.067, -0.162),
        ("darker_peak", 12.56, 4.478, 0.063, 0.265),
        ("around", 4.904, 2.089, 0.187, 0.118),
        ("tint", 4.296, 1.774, -0.281, 0.039),
        ("redder", 1.411, 1.374, -0.258, 0.153),
        ("yellower", -4.392, 3.189, 0.235, -0.125),
        ("step", 1.548, 0.9399, 0.061, 0.135),
        ("solidity", 0.939, 0.0512, 0.047, 0.140),
        ("roundness", 0.7464, 0.1781, -0.119, 0.202),
        ("along", 0.03479, 0.2645, 0.537, 0.408),
        ("swirl", 0.06733, 0.0699, -0.004, -0.222),
        ("turn", 0.1808, 0.06523, -0.428, 0.221),
        ("disorder", 0.7541, 0.1272, -0.191, 0.428),
        ("beyond", 7.283, 2.796, 0.170, 0.107),
        ("at_edge", 0, 0.001, -0.048, -0.143),
        ("texture", 2.534, 1.257, -0.039, -0.001),
    ),
)
NOT_SOUND = Model(
    -0.759,
    (
        ("log_size", 2.271, 0.6198, 0.877, 0.235),
        ("darker", 7.049, 2.982, -0.299, -0.287),
        ("darker_peak", 11.4, 4.378, 0.516, 0.182),
        ("around", 4.386, 1.826, 0.338, -0.124),
        ("tint", 3.929, 1.678, 0.640, 0.037),
        ("redder", 1.408, 1.297, -0.292, -0.004),
        ("yellower", -3.95, 2.936, -0.975, -0.133),
        ("step", 1.448, 0.8067, -0.442, -0.006),
        ("solidity", 0.9406, 0.03879, 0.131, 0.116),
        ("roundness", 0.74, 0.1694, -0.049, -0.250),
        ("along", 0.03991, 0.2758, -0.068, 0.190),
        ("swirl", 0.054, 0.07062, 0.107, -0.065),
        ("turn", 0.1836, 0.06634, 0.057, 0.222),
        ("disorder", 0.7459, 0.135, -0.151, 0.073),
        ("beyond", 6.426, 2.556, -0.098, 0.196),
        ("at_edge", 0, 0.001, 0.014, 0.043),
        ("texture", 2.432, 1.133, 1.506, -0.003),
    ),
)
