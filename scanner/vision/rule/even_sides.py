"""Which edge of a bar carries lines at even places, and which one lines that stand anyhow.

Many rules carry inches at one edge and centimetres at the other: looked for at the one's places
the other's lines are found wherever chance has them. So are grain, numbers and a shadow's specks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats
    from scanner.vision.rule.step_map import StepMap

# The lines of an edge stand at even places but for the reading's error; by more than this (both in
# steps and in px) they are shorter lines, numbers or grain, taken as they came.
_SCATTERED, _SCATTERED_PX = 0.025, 0.5
# ... and by so much more where nothing but chance set them.
_UNEVEN = 2.0
# Fewer lines of an edge say nothing of how even they are.
_FEWEST = 4


def unsure_sides(
    numbers: NDArray[np.int_], heights: Floats, shares: Floats, steps: StepMap, length_px: float
) -> tuple[float, ...]:
    """Return the sides (-1: lower edge, 1: upper one) whose lines do not stand at even places.

    Parameters
    ----------
    numbers, heights, shares
        (N,) of each line: its number, where across the bar and at which share of it it was seen.
    length_px
        Of the bar in the photo.
    """
    most = _most_scatter(steps, length_px)
    scatter = _scatter(numbers, heights, shares, steps)
    return tuple(side for side, found in scatter.items() if found > most)


def uneven_side(
    numbers: NDArray[np.int_], heights: Floats, shares: Floats, steps: StepMap, length_px: float
) -> float:
    """Return the side (-1, 1) whose lines stand anyhow beside the other's even ones, or 0."""
    scatter = _scatter(numbers, heights, shares, steps)
    if len(scatter) < 2:
        return 0.0
    worse = max(scatter, key=lambda side: scatter[side])
    most = _most_scatter(steps, length_px)
    return worse if scatter[-worse] <= most and scatter[worse] > _UNEVEN * most else 0.0


def _most_scatter(steps: StepMap, length_px: float) -> float:
    """Return how far lines of one edge may scatter about even places, in steps."""
    step_px = length_px / float(np.ptp(steps.numbers(np.array([0.0, 1.0]))))
    return max(_SCATTERED, _SCATTERED_PX / step_px)


def _scatter(
    numbers: NDArray[np.int_], heights: Floats, shares: Floats, steps: StepMap
) -> dict[float, float]:
    """Return how far the lines of either side scatter, in steps, where there are enough."""
    of_side = {side: np.sign(heights) == side for side in (-1.0, 1.0)}
    return {
        side: steps.scatter(shares[there], numbers[there])
        for side, there in of_side.items()
        if there.sum() >= _FEWEST
    }
