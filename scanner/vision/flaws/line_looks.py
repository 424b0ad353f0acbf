"""How a thin dark line looks: what tells a crack from ring lines, pores, saw marks and streaks.

A crack is a gap without light: it takes the same share of every colour, is alike to both its sides,
opens towards an end and stops. A ring line is browner, shades off to one side and runs on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.crack_reach import darkness_across, line_maps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.flaws.learned_regions import Region
    from scanner.vision.flaws.surface import Floats, Surface

# What `LineLooks.measure` returns, in order:
# ``dark``    how dark the line is in units of the face's own texture,
# ``beyond``  how dark what goes on past its inner tips is, in the same units,
# ``blue``    how much more it darkens blue than red, as a share of its darkness (brown lines do),
# ``shade``   how unlike its two sides are, natural logarithm of light,
# ``wander``  how far it leaves the grain's own direction, slope,
# ``wedge``   how much darker its half at the end is than its inner half (on the face: its middle
#             than its tips),
# ``log_mm``  the logarithm of its length.
LOOKS = ("dark", "beyond", "blue", "shade", "wander", "wedge", "log_mm")

_BEYOND_PX = (10, 70)
_STRAY_PX = 3
_SIDE_PX = 6
_SMOOTH_PX = 9
_TAIL_PX = 40
# Slopes over which a share is gathered along a line, and how far.
_SLOPES = (-0.16, -0.08, 0.0, 0.08, 0.16)
_GATHER_PX = 41


@dataclass(frozen=True, slots=True, eq=False)
class LineLooks:
    """Maps of a face in which its lines are measured, each (H, W).

    Attributes
    ----------
    dark
        Width in mm of a black line that would darken as much, over the face's own deviation.
    blue, red, green
        The same by colour, mm.
    side
        Logarithm of light, mean over a few rows.
    slope
        Of the grain, down over right.
    """

    dark: Floats
    blue: Floats
    red: Floats
    green: Floats
    side: Floats
    slope: Floats

    def measure(self, region: Region, share: Floats, at_end: str) -> list[float]:
        """Return the looks of a line in the order of `LOOKS`.

        Parameters
        ----------
        region
            Its pixels.
        share
            (H, W) how surely each pixel is a check: the line's course within the region.
        at_end
            ``left``, ``right`` or, where it reaches no end, an empty string.
        """
        x, y = course_of(region, share)
        rows = np.clip(np.round(y).astype(int), 0, len(share) - 1)
        # Within a pixel of its course the line is where it is darkest.
        near = np.clip(rows + np.array([[-1], [0], [1]]), 0, len(share) - 1)
        dark = self.dark[near, x].max(axis=0)
        green = max(float(self.green[rows, x].mean()), 0.05)
        blue = float(self.blue[rows, x].mean() - self.red[rows, x].mean())
        above, below = (
            self.side[np.clip(rows + off, 0, len(share) - 1), x] for off in (-_SIDE_PX, _SIDE_PX)
        )
        wander = np.abs(np.gradient(y) - self.slope[rows, x]) if len(y) > 1 else np.zeros(1)
        tips = [side for side in ("left", "right") if side != at_end]
        beyond = [self._beyond(x, y, side) for side in tips]
        return [
            float(dark.mean()),
            float(np.mean(beyond)),
            float(np.clip(blue / green, -1.0, 1.0)),
            abs(float((above - below).mean())),
            float(wander.mean()),
            _wedge(dark, at_end),
            float(np.log(0.5 * len(x))),
        ]

    def _beyond(self, x: NDArray[np.int_], y: NDArray[np.float64], side: str) -> float:
        """Return how dark the darkest line is that goes on past a tip."""
        rows, columns = self.dark.shape
        tail = slice(-_TAIL_PX, None) if side == "right" else slice(None, _TAIL_PX)
        slope = float(np.polyfit(x[tail], y[tail], 1)[0]) if len(x[tail]) > 4 else 0.0
        tip, row = (x[-1], y[-1]) if side == "right" else (x[0], y[0])
        steps = np.arange(*_BEYOND_PX) * (1 if side == "right" else -1)
        at = tip + steps
        at = at[(at >= 0) & (at < columns)]
        if not len(at):
            return 0.0
        course = row + float(np.clip(slope, -0.15, 0.15)) * (at - tip)
        off = np.arange(-_STRAY_PX, _STRAY_PX + 1)[:, None]
        found = self.dark[np.clip(np.round(course + off).astype(int), 0, rows - 1), at]
        return float(np.max(found.mean(axis=1)))


def line_looks(surface: Surface) -> LineLooks:
    """Return the maps of a face."""
    dark, spread = line_maps(surface)
    rgb = np.asarray(cv2.cvtColor(surface.lab, cv2.COLOR_LAB2RGB))
    linear = np.maximum(rgb, 0.0) ** np.float32(2.2)
    red, green, blue = (
        darkness_across(np.ascontiguousarray(linear[..., channel])) for channel in range(3)
    )
    light = np.log(((surface.lab[..., 0] + 16.0) / 116.0) ** 3 + 0.01).astype(np.float32)
    side = np.asarray(cv2.blur(light, (5, 5)), dtype=np.float32)
    slope = np.tan(np.clip(surface.grain.angle_rad, -0.6, 0.6)).astype(np.float32)
    return LineLooks(dark / np.float32(spread), blue, red, green, side, slope)


def course_of(region: Region, share: Floats) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    """Return a line's columns and its smooth row in each (face px)."""
    h, w = region.pixels.shape
    cut = share[region.row : region.row + h, region.column : region.column + w]
    weight = np.where(region.pixels, cut + 1e-3, 0.0).astype(np.float64)
    total = weight.sum(axis=0)
    have = total > 0
    height = np.arange(h)[:, None]
    middle = (weight * height).sum(axis=0)[have] / total[have]
    x = np.arange(w)
    y = np.interp(x, x[have], middle)
    smooth = cv2.blur(y.reshape(1, -1), (_SMOOTH_PX, 1), borderType=cv2.BORDER_REPLICATE).ravel()
    return x + region.column, np.asarray(smooth, dtype=np.float64) + region.row


def gathered(share: Floats) -> Floats:
    """Return the greatest mean share over 20 mm of line through each pixel, by its best slope.

    A crack that is hardly seen anywhere is still seen along its whole length.
    """
    wide = cv2.dilate(share, np.ones((3, 1), np.uint8))
    rows, columns = share.shape
    best = np.zeros_like(share)
    for slope in _SLOPES:
        lean = np.array([[1, 0, 0], [slope, 1, -slope * columns / 2]], dtype=np.float64)
        room = int(np.ceil(abs(slope) * columns / 2)) + 1
        lean[1, 2] += room
        size = (columns, rows + 2 * room)
        flat = cv2.warpAffine(wide, lean, size, flags=cv2.INTER_LINEAR)
        flat = cv2.blur(flat, (_GATHER_PX, 1), borderType=cv2.BORDER_REPLICATE)
        back = cv2.warpAffine(
            flat, lean, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        best = np.maximum(best, back)
    # Gathering adds to a line's length, not to its width.
    return np.asarray(np.minimum(best, 2.0 * wide + 0.05), dtype=np.float32)


def _wedge(dark: Floats, at_end: str) -> float:
    """Return how much darker a line is where a crack would open than where it would close."""
    third = max(len(dark) // 3, 1)
    left, middle, right = dark[:third], dark[third:-third], dark[-third:]
    if at_end == "left":
        return float(left.mean() - right.mean())
    if at_end == "right":
        return float(right.mean() - left.mean())
    if not len(middle):
        return 0.0
    return float(middle.mean() - 0.5 * (left.mean() + right.mean()))
