"""The smooth path of an arris through scores, column by column along a side."""

import numpy as np
from numpy.typing import NDArray

from scanner.vision.outline.side import Doubles, Singles


def smooth_path(score: Singles, bend: float, most_step: int = 4) -> NDArray[np.intp]:
    """Return for each column the row of the best path from left to right.

    Parameters
    ----------
    score
        (T, S), high where the path should go.
    bend
        Cost of one row of climb per column, squared.
    most_step
        Largest climb per column, rows.
    """
    rows, columns = score.shape
    best = score[:, 0].astype(np.float64)
    came = np.zeros((rows, columns), dtype=np.int8)
    steps = range(-most_step, most_step + 1)
    for column in range(1, columns):
        options = np.full((len(steps), rows), -np.inf)
        for index, step in enumerate(steps):
            if step >= 0:
                options[index, step:] = best[: rows - step] - bend * step * step
            else:
                options[index, :step] = best[-step:] - bend * step * step
        choice = options.argmax(axis=0)
        came[:, column] = choice - most_step
        best = options[choice, np.arange(rows)] + score[:, column]
    path = np.zeros(columns, dtype=np.intp)
    path[-1] = int(best.argmax())
    for column in range(columns - 1, 0, -1):
        path[column - 1] = path[column] - came[path[column], column]
    return path


def sharpen(score: Singles, path: NDArray[np.intp]) -> Doubles:
    """Return the path (S,) to a part of a row: where a parabola through three scores has its top.

    ``score`` is (T, S): T rows out from the board, S columns along it.
    """
    rows = score.shape[0]
    at = np.clip(path, 1, rows - 2)
    columns = np.arange(score.shape[1])
    low, mid, high = (score[at + step, columns].astype(np.float64) for step in (-1, 0, 1))
    curve = low - 2 * mid + high
    shift = np.where(curve < -1e-6, 0.5 * (low - high) / np.minimum(curve, -1e-6), 0.0)
    return np.asarray(at + np.clip(shift, -1.0, 1.0), dtype=np.float64)


# An arris is a saw's cut or the slow line of a wane: straight over this, one standard deviation.
_STRAIGHT_MM = 12.0
# Points further than this from their neighbours' line count for little.
_STRAY_MM = 2.0


def straightened(s_mm: Doubles, t_mm: Doubles, sd_mm: Doubles, take: NDArray[np.bool_]) -> Doubles:
    """Return the path with every point on the straight line that its neighbours give.

    Parameters
    ----------
    s_mm, t_mm
        (N,) along the side, evenly spaced, and out from it.
    sd_mm
        (N,) how unsure each point is.
    take
        (N,) which points lie between the ends; the others follow these.

    References
    ----------
    W. S. Cleveland 1979, "Robust locally weighted regression and smoothing scatterplots".
    """
    step = float(s_mm[1] - s_mm[0])
    reach = int(np.ceil(4 * _STRAIGHT_MM / step))
    away = np.arange(-reach, reach + 1) * step
    kernel = np.exp(-0.5 * (away / _STRAIGHT_MM) ** 2)
    weight = take / np.maximum(sd_mm, 0.1) ** 2

    def gathered(values: Doubles, power: int) -> Doubles:
        """Sum of values times distance to the power, over each point's neighbours."""
        return np.convolve(values, (kernel * (-away) ** power), mode="full")[reach:-reach]

    smooth = t_mm
    for _ in range(3):
        one, by_s, by_ss = (gathered(weight, power) for power in (0, 1, 2))
        t, by_t = gathered(weight * t_mm, 0), gathered(weight * t_mm, 1)
        spread = one * by_ss - by_s**2
        sure = spread > 1e-6 * one**2
        fitted = np.where(sure, (by_ss * t - by_s * by_t) / np.where(sure, spread, 1.0), t_mm)
        smooth = np.where(one > 1e-9, fitted, t_mm)
        weight = take / (np.maximum(sd_mm, 0.1) ** 2 * (1 + ((t_mm - smooth) / _STRAY_MM) ** 2))
    return np.asarray(smooth)
