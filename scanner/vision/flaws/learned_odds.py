"""How likely a region of the network is a spot, or a check, that a person would mark."""

import numpy as np
from numpy.typing import NDArray

SPOT_MEASURES = ("share", "core", "log_area", "line", "loose", "fill")

# By `scanner.vision.training.fit_odds`: each measure's middle, half-spread and weight. Fitted on
# 1592 regions of real training boards that the network which drew them had not seen. They hold for
# the network of photographs too: on 80 rendered faces (seeds 8000-8039, `tests.bench.fit_spots`)
# 181 of 181 spots of 9 mm and more for 2 false ones, and rows fitted there do no better.
_OFFSET = 3.304
_ROWS: tuple[tuple[str, float, float, float], ...] = (
    ("share", 2.253, 0.5831, 0.899),
    ("core", 0.6196, 0.2017, 1.015),
    ("log_area", 5.412, 1.282, 0.370),
    ("line", 0.001323, 0.05, -0.066),
    ("loose", 0.396, 0.4088, 0.462),
    ("fill", 0.7045, 0.07257, 0.203),
)


LINE_MEASURES = ("mean", "peak", "at_end", "alike")

# By `tests.bench.fit_checks` on 577 regions, 152 of them cracks, of 80 faces of rendered phone
# photographs that the network was not trained on (seeds 8000-8039): log odds of a crack, their
# greatest, whether the line runs out of an end of the board, and the logarithm of how many lines of
# the face look as much like a crack (many alike are ring lines). Of those that rows fitted without
# their board score under 0.2, 5 % are cracks, over 0.8 96 %.
# Tried in their place, fitted on 40 faces and held against 44 others (seeds 5201-5317): the middle
# or the clearer quarter of the share along a line's course for its mean, only faint lines counted
# as alike, how many faint lines the face has, how dark the line is. For 0.4 false ones a face they
# find 82 to 86 of 100 cracks over 20 mm; these rows, 84. Of what these miss half is no candidate.
_LINE_OFFSET = -2.874
_LINE_ROWS: tuple[tuple[str, float, float, float], ...] = (
    ("mean", -0.4708, 0.7689, 1.120),
    ("peak", 2.308, 2.37, 1.007),
    ("at_end", 0.0, 0.5, 0.417),
    ("alike", 1.946, 0.7702, -0.851),
)


# Of a spot under 9 mm: log odds of the network and of the finder of dark spots (each where it sees
# one, else as given below), and `own_texture`'s two measures. By `tests.bench.fit_small`, on 98
# small spots, 29 of them true, of 30 rendered faces (seeds 3100-3110 and the sample pictures).
SMALL_MEASURES = ("network", "finder", "lone", "alike")
UNSEEN_BY_NETWORK, UNSEEN_BY_FINDER = -4.0, -3.0
_SMALL_OFFSET = -1.754
_SMALL_ROWS: tuple[tuple[str, float, float, float], ...] = (
    ("network", -1.753, 3.201, 0.975),
    ("finder", -0.112, 2.386, 1.228),
    ("lone", 0.5, 0.55, 0.535),
    ("alike", 4.234, 2.644, -1.317),
)


def spot_odds(measures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for regions (N, len(SPOT_MEASURES)) how likely each is a knot, hole or pocket."""
    return _odds(measures, _OFFSET, _ROWS)


def small_odds(measures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for spots (N, len(SMALL_MEASURES)) how likely each is a knot or a hole."""
    return _odds(measures, _SMALL_OFFSET, _SMALL_ROWS)


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
