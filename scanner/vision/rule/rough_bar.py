"""Whether anything repeats along a bar as it is first seen, before its edges are followed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled
from scanner.vision.rule.tick_signal import ROWS
from scanner.vision.rule.tick_spectrum import faint_evidence

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Graduations are looked for in so many of a bar's rows at either edge, but not in the very first.
_ZONE = 5
_FROM_EDGE = (np.arange(_ZONE) + 1.5) / ROWS
# Ground darker than this, of 255, is noise; what one place can say, in scatters of all.
_BLACK, _MOST, _LEAST_SCATTER = 8.0, 4.0, 0.004
# Bars that show less are not followed. Of some 650 looks at bars on four development boards nine
# in ten show less, and no rule less than 156.
_NOTHING = 50.0


def shows_nothing(grey: Bytes, ends: Floats, wide: float) -> bool:
    """Return whether nothing repeats along either edge of a rough bar.

    A fifth of what following the bar and a quick look at it take.

    Parameters
    ----------
    grey
        Brightness, full size.
    ends
        (2, 2) px, of its middle line.
    wide
        Its width, px.
    """
    return rough_repeats(grey, ends, wide) < _NOTHING


def rough_repeats(grey: Bytes, ends: Floats, wide: float) -> float:
    """Return about how clearly anything repeats, as `tick_spectrum.faint_evidence`."""
    step = ends[1] - ends[0]
    length = float(np.linalg.norm(step))
    up = np.array([step[1], -step[0]]) / length
    columns = max(64, int(length))
    line = ends[0] + np.linspace(0.0, 1.0, columns)[:, None] * step
    heights = wide * np.concatenate([0.5 - _FROM_EDGE, _FROM_EDGE - 0.5])
    values = sampled(grey, line + heights[:, None, None] * up)
    ground = cv2.blur(values, (int(wide) | 1, 1), borderType=cv2.BORDER_REFLECT)
    lines = (ground - values) / np.maximum(ground, _BLACK)
    return faint_evidence(_limited(lines.reshape(2, _ZONE, columns).mean(axis=1)), length)


def _limited(edges: NDArray[np.float32]) -> Floats:
    """Return the signal of each edge in its own scatters: no speck may say much."""
    scatter = 1.4826 * np.median(np.abs(edges), axis=1, keepdims=True) + _LEAST_SCATTER
    return np.asarray(np.clip(edges / scatter, -_MOST, _MOST), dtype=np.float64)
