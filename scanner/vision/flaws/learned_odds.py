"""How likely a region of the network is a spot, or a check, that a person would mark."""

import numpy as np
from numpy.typing import NDArray

SPOT_MEASURES = ("share", "core", "log_area", "line", "loose", "fill")

# By `scanner.vision.training.fit_odds`: each measure's middle, half-spread and weight. Fitted on
# 1592 regions of real training boards that the network which drew them had not seen.
_OFFSET = 3.304
_ROWS: tuple[tuple[str, float, float, float], ...] = (
    ("share", 2.253, 0.5831, 0.899),
    ("core", 0.6196, 0.2017, 1.015),
    ("log_area", 5.412, 1.282, 0.370),
    ("line", 0.001323, 0.05, -0.066),
    ("loose", 0.396, 0.4088, 0.462),
    ("fill", 0.7045, 0.07257, 0.203),
)


LINE_MEASURES = ("mean", "peak", "at_end")

# By `tests.bench.fit_checks`, on 305 regions of 42 faces of rendered phone photographs (seeds
# 3000-3020) that the network was not trained on: log odds of a crack, their greatest, and whether
# the line runs out of an end of the board.
_LINE_OFFSET = -2.293
_LINE_ROWS: tuple[tuple[str, float, float, float], ...] = (
    ("mean", 1.705, 1.129, 1.191),
    ("peak", 3.687, 2.002, 0.337),
    ("at_end", 0.0, 0.5, 1.383),
)


def spot_odds(measures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for regions (N, len(SPOT_MEASURES)) how likely each is a knot, hole or pocket."""
    return _odds(measures, _OFFSET, _ROWS)


def line_odds(measures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for regions (N, len(LINE_MEASURES)) how likely each is a check, split or shake."""
    return _odds(measures, _LINE_OFFSET, _LINE_ROWS)


def _odds(
    measures: NDArray[np.float64], offset: float, rows: tuple[tuple[str, float, float, float], ...]
) -> NDArray[np.float64]:
    middle, spread, weight = (
        np.array([row[column] for row in rows], dtype=np.float64) for column in (1, 2, 3)
    )
    standard = np.clip((np.asarray(measures) - middle) / spread, -4.0, 4.0)
    return np.asarray(1.0 / (1.0 + np.exp(-(offset + standard @ weight))), dtype=np.float64)
