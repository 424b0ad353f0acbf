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


# By tests/bench/fit_flaws.py, on rendered faces of three hardwoods (seeds 1000-1012, 1100-1106,
# 3000-3010) and every third training board of real sawn softwood.
# A spot is a knot, a hole or a bark pocket, and not just dark wood, dirt or shadow.
FLAW = Model(
    -9.701,
    (
        ("log_size", 1.705, 0.5924, 1.808, -0.400),
        ("darker", 3.452, 1.493, -0.489, -0.176),
        ("darker_peak", 4.571, 2.153, 2.068, -0.182),
        ("around", 3.091, 1.226, 0.234, -0.058),
        ("tint", 2.853, 1.745, -0.088, -0.184),
        ("redder", 0.556, 1.011, -0.296, 0.104),
        ("yellower", 0.1113, 1.789, -0.572, -0.117),
        ("step", 0.9364, 0.5978, 1.347, -0.052),
        ("solidity", 0.9124, 0.05645, 0.873, 0.123),
        ("roundness", 0.4377, 0.2412, 0.005, 0.475),
        ("along", 0.7038, 0.6707, -0.805, -0.384),
        ("swirl", 0.006952, 0.02258, 0.117, 0.009),
        ("turn", 0.1024, 0.07564, -0.271, 0.127),
        ("disorder", 0.1591, 0.2465, 1.087, 0.092),
        ("beyond", 3.163, 1.903, 0.318, 0.147),
        ("at_edge", 0, 0.001, 0.079, -0.044),
        ("texture", 2.151, 1.146, -0.882, 0.046),
        ("browner", 0.0505, 0.04574, 1.090, -0.257),
        ("greyer", 0.4403, 0.264, -0.615, -0.073),
        ("sharpness", 0.3092, 0.1097, -0.991, -0.143),
    ),
    scale=0.774,
    shift=-0.567,
)

# A spot that is one of these is a hole; is a bark pocket; a knot is loose, hollow or cracked.
HOLE = Model(
    -6.617,
    (
        ("log_size", 2.534, 0.6387, -0.309, 0.092),
        ("darker", 8.227, 3.34, 0.078, -0.290),
        ("darker_peak", 12.76, 4.357, 0.387, 0.364),
        ("around", 5.133, 2.178, 0.160, 0.242),
        ("tint", 4.434, 1.928, 0.089, 0.354),
        ("redder", 1.094, 1.383, -0.459, 0.098),
        ("yellower", -4.517, 3.176, 0.350, -0.013),
        ("step", 1.638, 0.9022, 0.032, -0.019),
        ("solidity", 0.9445, 0.04957, -0.035, -0.047),
        ("roundness", 0.7784, 0.1712, 0.177, -0.064),
        ("along", 0.02384, 0.2427, 0.220, -0.087),
        ("swirl", 0.07663, 0.08997, -0.318, -0.174),
        ("turn", 0.1947, 0.07267, -0.540, 0.434),
        ("disorder", 0.7554, 0.1306, -0.119, -0.224),
        ("beyond", 7.631, 2.903, -0.182, -0.296),
        ("at_edge", 0, 0.001, -0.058, -0.174),
        ("texture", 2.54, 1.174, 0.185, 0.051),
        ("browner", 0.1089, 0.05731, -0.103, 0.188),
        ("greyer", 0.2719, 0.1503, -0.282, -0.042),
        ("sharpness", 0.2133, 0.07604, 0.282, 0.250),
    ),
)
BARK_POCKET = Model(
    -8.721,
    (
        ("log_size", 2.534, 0.6387, 0.041, -0.100),
        ("darker", 8.227, 3.34, -0.081, 0.009),
        ("darker_peak", 12.76, 4.357, -0.089, 0.057),
        ("around", 5.133, 2.178, 0.105, 0.099),
        ("tint", 4.434, 1.928, -0.091, 0.090),
        ("redder", 1.094, 1.383, -0.053, 0.004),
        ("yellower", -4.517, 3.176, 0.185, 0.109),
        ("step", 1.638, 0.9022, 0.010, 0.074),
        ("solidity", 0.9445, 0.04957, 0.096, -0.244),
        ("roundness", 0.7784, 0.1712, -0.108, 0.406),
        ("along", 0.02384, 0.2427, 0.289, 0.248),
        ("swirl", 0.07663, 0.08997, 0.049, -0.143),
        ("turn", 0.1947, 0.07267, -0.184, 0.068),
        ("disorder", 0.7554, 0.1306, -0.109, 0.391),
        ("beyond", 7.631, 2.903, 0.041, 0.049),
        ("at_edge", 0, 0.001, -0.039, -0.115),
        ("texture", 2.54, 1.174, -0.052, -0.028),
        ("browner", 0.1089, 0.05731, -0.220, -0.010),
        ("greyer", 0.2719, 0.1503, -0.145, 0.086),
        ("sharpness", 0.2133, 0.07604, -0.065, -0.078),
    ),
)
NOT_SOUND = Model(
    0.271,
    (
        ("log_size", 2.54, 0.6308, 1.209, -0.204),
        ("darker", 8.227, 3.299, -0.997, 0.028),
        ("darker_peak", 12.71, 4.277, 0.834, -0.267),
        ("around", 5.071, 2.115, 0.255, -0.131),
        ("tint", 4.441, 1.875, 0.188, -0.097),
        ("redder", 1.115, 1.363, -0.411, 0.149),
        ("yellower", -4.568, 3.113, -1.817, 0.119),
        ("step", 1.623, 0.887, -0.734, -0.163),
        ("solidity", 0.9446, 0.05004, 0.098, 0.122),
        ("roundness", 0.7789, 0.1655, -0.195, -0.219),
        ("along", 0.01714, 0.2413, -0.110, 0.024),
        ("swirl", 0.07849, 0.09065, 0.001, -0.005),
        ("turn", 0.1988, 0.07088, 0.392, -0.017),
        ("disorder", 0.7572, 0.1258, -0.232, 0.266),
        ("beyond", 7.557, 2.884, -0.554, 0.613),
        ("at_edge", 0, 0.001, -0.030, -0.012),
        ("texture", 2.532, 1.142, 2.583, 0.089),
        ("browner", 0.1089, 0.05656, 0.899, -0.190),
        ("greyer", 0.2726, 0.1469, -0.268, 0.105),
        ("sharpness", 0.2122, 0.07395, -0.253, 0.141),
    ),
)
