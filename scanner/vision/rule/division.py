"""How a rule's steps are divided: in halves again and again, as inches are, or in tenths.

Once it is known which step lies where, lines that come so many times a step add up exactly, where
a spectrum over the whole bar loses them: it has one count for all of it, and what a lens bends it
takes for blur. Signal against noise by the exponential law of a noise spectrum, as in
`tick_spectrum`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.rule.tick_signal import GROUPS

if TYPE_CHECKING:
    from scanner.vision.cv import Floats
    from scanner.vision.rule.step_map import StepMap

# Lines a step that are looked at; nearer than so many px no two lines can be parted.
_LINES = (2, 4, 6, 8, 10, 12, 16, 20, 24)
_NEAREST_PX = 2.5
# Noise is read between whole numbers of lines a step, so far from them, and about each of these as
# about its two neighbours: of few values the median is mere chance.
_BETWEEN = np.array([-0.5, -0.45, -0.4, -0.35, 0.35, 0.4, 0.45, 0.5])


def division(groups: Floats, steps: StepMap, length_px: float) -> tuple[float, float]:
    """Return by how much halves and tenths of a step stand out (ln), the clearer edge of each.

    Parameters
    ----------
    groups
        `TickSignal.groups`; an edge that is 0 throughout says nothing.
    length_px
        Of the bar in the photo.

    Returns
    -------
    tuple
        `Repeats.halving` and `Repeats.tenths`; 0 where too fine to be seen.
    """
    zones = groups[GROUPS - 1 :: GROUPS]
    zones = zones[zones.any(axis=1)]
    number = steps.numbers(np.linspace(0.0, 1.0, groups.shape[1]))
    step_px = length_px / float(number[-1] - number[0])
    seen = [lines for lines in _LINES if lines * _NEAREST_PX < step_px]
    if len(zones) == 0 or 4 not in seen:
        return 0.0, 0.0
    # Even in steps, whatever perspective makes of them, and nothing of the bar's two ends.
    weight = np.gradient(number) * np.hanning(len(number))
    even = zones - (zones @ weight / weight.sum())[:, None]
    # Power at each number of lines, and between: a wave of so many, times those of the offsets.
    waves = np.exp(-2j * np.pi * np.array(seen)[:, None] * number)
    aside = np.exp(-2j * np.pi * np.append(0.0, _BETWEEN)[:, None] * number)
    power = np.abs((even * weight)[:, None] * aside @ waves.T).swapaxes(1, 2) ** 2
    between = np.pad(power[..., 1:], ((0, 0), (1, 1), (0, 0)), mode="edge")
    around = np.concatenate([between[:, :-2], between[:, 1:-1], between[:, 2:]], axis=2)
    noise = np.median(around, axis=2) / np.log(2) + 1e-9
    clear = dict(zip(seen, np.log1p(power[..., 0] / noise).T, strict=True))

    def stands_out(lines: int, *others: int) -> Floats:
        beside = [clear[other] for other in others if other in clear]
        if lines not in clear or not beside:
            return np.zeros(len(zones))
        return np.asarray(clear[lines] - np.mean(beside, axis=0))

    halving = stands_out(4, 2, 6) + (stands_out(8, 6) if 8 in clear else 0.0)
    # Where half millimetres are drawn there are twenty lines, and ten of them hardly longer.
    tenths = np.maximum(stands_out(10, 8, 12), stands_out(20, 16, 24))
    if 20 not in clear:
        tenths = stands_out(10, 8, 12)
    return float(halving.max()), float(tenths.max())
