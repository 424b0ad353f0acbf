"""What a low lamp adds to the search for checks: lips that shade, and a second look at each line.

Between two pictures of one face under two lights all that is colour cancels: ring lines, pores and
streaks go, and what stands up or falls away stays. A crack's lips shade along its whole length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.learned_maps import CHANNELS, ShareMaps
from scanner.vision.flaws.line_looks import course_of

if TYPE_CHECKING:
    from scanner.vision.flaws.learned_regions import Region
    from scanner.vision.flaws.surface import Floats, Surface

# One lip lies so far above the line, the other below, working px.
_LIP_PX = 2
# A line's shading is held against that of lines so far beside it, px.
_BESIDE_PX = (-28, -22, -16, 16, 22, 28)
_SMALL = 0.01
_MOST = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class Shading:
    """How two lights differ over a face: (H, W) brighter above than below a line there (log)."""

    across: Floats

    def lips(self, region: Region, share: Floats) -> float:
        """Return how plainly a line's two sides shade, in deviations of lines beside it."""
        x, y = course_of(region, share)
        rows = len(share)
        middle = np.round(y).astype(int)

        def along(off: int) -> float:
            """Return the mean over the line, where its sides are told best within a pixel."""
            near = [self.across[np.clip(middle + off + k, 0, rows - 1), x].mean() for k in range(3)]
            near += [self.across[np.clip(middle + off - k, 0, rows - 1), x].mean() for k in (1, 2)]
            return float(np.abs(near).max())

        usual = [along(off) for off in _BESIDE_PX]
        spread = max(float(np.mean(usual)), _SMALL)
        return min(along(0) / spread, _MOST)


def shading(first: Surface, raked: Surface) -> Shading:
    """Return how two pictures of a face, one over the other, differ in their light."""
    light = [
        np.log(((one.lab[..., 0] + 16.0) / 116.0) ** 3 + _SMALL).astype(np.float32)
        for one in (first, raked)
    ]
    # The two are taken with other noise and other blur: what is finer than a pixel means nothing.
    change = cv2.GaussianBlur(light[1] - light[0], (0, 0), 1.5, sigmaY=0.7)
    across = np.roll(change, _LIP_PX, axis=0) - np.roll(change, -_LIP_PX, axis=0)
    return Shading(np.asarray(across, dtype=np.float32))


def joined_checks(first: ShareMaps, raked: ShareMaps) -> ShareMaps:
    """Return the first map with each pixel's surer share of a check of both lights."""
    values = first.values.copy()
    check = CHANNELS.index("check")
    values[check] = np.maximum(values[check], raked.values[check])
    return ShareMaps(values)
