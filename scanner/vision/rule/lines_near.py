"""Lines seen near the places where a map of a rule's steps puts them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.lines import median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats
    from scanner.vision.rule.step_map import StepMap
    from scanner.vision.rule.tick_signal import TickSignal

# A line must stand out from its surroundings by this much (in scatters), and by this share of what
# the rule's lines usually do.
_LEAST_CONTRAST, _LEAST_SHARE = 0.8, 0.25
# An edge of which fewer lines are seen tells no run; a run ends where fewer than half are (what a
# missing one costs).
_LEAST_OF_EDGE, _MISSING = 0.3, 1.0
# A line is looked for at least so many columns about its place, and not so near a bar's end.
_LEAST_REACH, _AT_END = 2.5, 3


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines seen: number, column (upright) and height of each, (N,)."""

    numbers: NDArray[np.int_]
    columns: Floats
    heights: Floats


def lines_near(
    signal: TickSignal, groups: Floats, chosen: list[int], steps: StepMap, reach: float
) -> Lines:
    """Return every line seen within ``reach`` (steps) of its place, of the chosen groups.

    Parameters
    ----------
    groups
        `TickSignal.groups` of the signal.
    """
    last = signal.columns - 1
    first, final = steps.numbers(np.array([0.0, 1.0]))
    whole = np.arange(int(np.ceil(first)), int(np.floor(final)) + 1)
    # Half a step before, as far as is looked, the place itself, and as far after it.
    around = whole[:, None] + np.array([-0.5, -reach, 0.0, reach, 0.5])
    places = steps.shares(around) * last
    inside = (places[:, 2] >= _AT_END) & (places[:, 2] <= last - _AT_END)
    numbers, columns, heights = [], [], []
    for group in chosen:
        values = groups[group]
        mean, height = signal.mean_of(group)
        found: list[tuple[int, float, float]] = []
        for number, place in zip(whole[inside].tolist(), places[inside].tolist(), strict=True):
            before, low, at, high, after = place
            start = int(max(1, min(low, at - _LEAST_REACH)))
            stop = int(min(last - 1, max(high, at + _LEAST_REACH)))
            peak = start + int(values[start : stop + 1].argmax())
            if peak in (start, stop):
                continue
            ground = median(values[max(0, int(before)) : int(after) + 1])
            contrast = float(values[peak]) - ground
            if contrast < _LEAST_CONTRAST:
                continue
            near = np.arange(peak - 2, peak + 3).clip(0, last)
            weight = np.maximum(mean[near] - mean[near].min(), 0.0)
            if weight.sum() <= 0:
                continue
            found.append((number, float((weight * near).sum() / weight.sum()), contrast))
        least = _LEAST_SHARE * float(np.median([one[2] for one in found])) if found else 0.0
        found = [one for one in found if one[2] >= least]
        numbers += [one[0] for one in found]
        columns += [one[1] for one in found]
        heights += [height] * len(found)
    return Lines(np.array(numbers, dtype=np.int_), np.array(columns), np.array(heights))


def extent(lines: Lines, keep: NDArray[np.bool_]) -> tuple[int, int]:
    """Return the first and last number between which lines stand at their places.

    The run in which lines seen, less lines missing, add up to most: a hidden piece is bridged,
    specks on the floor beyond an end are not.
    """
    first, final = int(lines.numbers.min()), int(lines.numbers.max())
    total = np.zeros(final - first + 1)
    for height in np.unique(lines.heights):
        seen = np.zeros(len(total), dtype=bool)
        seen[lines.numbers[keep & (lines.heights == height)] - first] = True
        if seen.mean() > _LEAST_OF_EDGE:
            total += np.where(seen, 1.0, -_MISSING)
    sums = np.concatenate([[0.0], np.cumsum(total)])
    lowest = np.minimum.accumulate(sums)
    high = int((sums - lowest).argmax())
    low = int(sums[: high + 1].argmin())
    return first + low, first + high - 1
