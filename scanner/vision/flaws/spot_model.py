"""What a spot is: logistic models over its measures, fitted once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Model:
    """An offset and for each measure its middle, half-spread and two weights.

    The weights are those of the standardised measure and of its square less one. ``scale`` and
    ``shift`` turn the log odds into how often such candidates are right, learnt on boards that the
    weights were fitted without (Platt 1999).
    """

    offset: float
    rows: tuple[tuple[str, float, float, float, float], ...]
    scale: float = 1.0
    shift: float = 0.0

    def odds(self, measures: NDArray[np.float64], names: tuple[str, ...]) -> NDArray[np.float64]:
        """Return how likely the model's claim is, 0 to 1, of measures (N, len(names))."""
        used = measures[:, [names.index(row[0]) for row in self.rows]]
        middle, spread, linear, square = (
            np.array([row[column] for row in self.rows], dtype=np.float64) for column in range(1, 5)
        )
        standard = np.clip((used - middle) / spread, -3.0, 3.0)
        evidence = self.offset + standard @ linear + (standard**2 - 1.0) @ square
        said = 1.0 / (1.0 + np.exp(-(self.scale * evidence + self.shift)))
        return np.asarray(said, dtype=np.float64)


# By tests/bench/fit_flaws.py, on rendered faces of three hardwoods (seeds 1000-1012, 1100-1107,
# 3000-3010 and 3020-3023, as the renderer drew them then) and every third training board of real
# sawn softwood.
# A spot is a knot, a hole or a bark pocket, and not just dark wood, dirt or shadow.
FLAW = Model(
    -9.977,
    (
        ("log_size", 1.699, 0.5838, 1.513, -0.328),
        ("darker", 3.506, 1.487, -0.324, -0.205),
        ("darker_peak", 4.678, 2.167, 2.075, -0.180),
        ("around", 3.17, 1.248, 0.105, -0.064),
        ("tint", 2.872, 1.78, -0.147, -0.201),
        ("redder", 0.5334, 0.9666, -0.277, 0.146),
        ("yellower", 0.2432, 1.699, -0.394, -0.030),
        ("step", 0.9827, 0.6174, 1.898, -0.158),
        ("solidity", 0.9132, 0.05566, 0.782, 0.120),
        ("roundness", 0.4239, 0.2359, 0.090, 0.448),
        ("along", 0.7523, 0.6581, -0.771, -0.388),
        ("swirl", 0.007096, 0.02217, 0.142, 0.017),
        ("turn", 0.0995, 0.0736, -0.486, 0.207),
        ("disorder", 0.1541, 0.2284, 0.761, 0.209),
        ("beyond", 3.275, 1.9, 0.103, 0.194),
        ("at_edge", 0, 0.001, 0.099, -0.058),
        ("texture", 2.301, 1.318, -1.403, 0.155),
        ("browner", 0.04939, 0.04505, 1.229, -0.250),
        ("greyer", 0.4414, 0.2525, -0.884, -0.114),
        ("sharpness", 0.3132, 0.1073, -1.042, 0.020),
    ),
    scale=0.899,
    shift=-0.274,
)

# A spot that is one of these is a hole; is a bark pocket; a knot is loose, hollow or cracked.
HOLE = Model(
    -7.044,
    (
        ("log_size", 2.583, 0.6359, -0.474, 0.153),
        ("darker", 8.518, 3.762, 0.111, -0.235),
        ("darker_peak", 13.18, 4.868, 0.456, 0.385),
        ("around", 5.324, 2.49, 0.201, 0.254),
        ("tint", 4.491, 1.853, -0.012, 0.329),
        ("redder", 1.165, 1.487, -0.637, 0.129),
        ("yellower", -4.274, 3.275, 0.317, -0.122),
        ("step", 1.705, 1.024, 0.045, -0.055),
        ("solidity", 0.9473, 0.04885, -0.036, -0.055),
        ("roundness", 0.7878, 0.1648, 0.218, -0.100),
        ("along", 0.02985, 0.2343, 0.323, -0.125),
        ("swirl", 0.08279, 0.0906, -0.365, -0.201),
        ("turn", 0.1984, 0.07262, -0.700, 0.612),
        ("disorder", 0.7564, 0.1256, -0.245, -0.133),
        ("beyond", 7.929, 3.331, -0.122, -0.153),
        ("at_edge", 0, 0.001, -0.058, -0.173),
        ("texture", 2.651, 1.429, 0.138, 0.034),
        ("browner", 0.111, 0.06669, -0.079, 0.224),
        ("greyer", 0.277, 0.1596, -0.228, -0.074),
        ("sharpness", 0.2144, 0.076, 0.229, 0.241),
    ),
)
BARK_POCKET = Model(
    -9.256,
    (
        ("log_size", 2.583, 0.6359, 0.045, -0.150),
        ("darker", 8.518, 3.762, -0.071, 0.010),
        ("darker_peak", 13.18, 4.868, -0.075, 0.026),
        ("around", 5.324, 2.49, 0.098, 0.081),
        ("tint", 4.491, 1.853, -0.089, 0.059),
        ("redder", 1.165, 1.487, -0.088, 0.018),
        ("yellower", -4.274, 3.275, 0.160, 0.004),
        ("step", 1.705, 1.024, -0.001, 0.068),
        ("solidity", 0.9473, 0.04885, 0.067, -0.168),
        ("roundness", 0.7878, 0.1648, -0.110, 0.454),
        ("along", 0.02985, 0.2343, 0.338, 0.243),
        ("swirl", 0.08279, 0.0906, 0.042, -0.151),
        ("turn", 0.1984, 0.07262, -0.198, 0.052),
        ("disorder", 0.7564, 0.1256, -0.113, 0.419),
        ("beyond", 7.929, 3.331, 0.031, 0.043),
        ("at_edge", 0, 0.001, -0.048, -0.143),
        ("texture", 2.651, 1.429, -0.060, -0.020),
        ("browner", 0.111, 0.06669, -0.263, 0.012),
        ("greyer", 0.277, 0.1596, -0.197, 0.086),
        ("sharpness", 0.2144, 0.076, -0.081, -0.106),
    ),
)
NOT_SOUND = Model(
    0.320,
    (
        ("log_size", 2.608, 0.6258, 1.127, -0.165),
        ("darker", 8.473, 3.658, -1.314, -0.153),
        ("darker_peak", 13.11, 4.647, 1.282, 0.003),
        ("around", 5.236, 2.362, 0.678, 0.130),
        ("tint", 4.51, 1.805, -0.091, -0.014),
        ("redder", 1.197, 1.484, -0.539, 0.135),
        ("yellower", -4.377, 3.189, -2.134, -0.169),
        ("step", 1.672, 0.9648, -0.724, 0.336),
        ("solidity", 0.9474, 0.05035, 0.411, 0.206),
        ("roundness", 0.7868, 0.1592, -0.088, -0.138),
        ("along", 0.0247, 0.2323, -0.097, 0.032),
        ("swirl", 0.08695, 0.09253, 0.049, -0.092),
        ("turn", 0.2026, 0.07014, 0.372, -0.050),
        ("disorder", 0.7572, 0.1189, -0.036, 0.339),
        ("beyond", 7.873, 3.243, -0.786, 0.151),
        ("at_edge", 0, 0.001, -0.033, -0.018),
        ("texture", 2.611, 1.376, 2.539, -0.441),
        ("browner", 0.1105, 0.06314, 0.799, -0.149),
        ("greyer", 0.2763, 0.1556, -0.075, 0.137),
        ("sharpness", 0.2124, 0.07287, -0.023, 0.173),
    ),
)
