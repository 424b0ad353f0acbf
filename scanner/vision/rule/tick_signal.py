"""The surface of a bar laid out straight: rows along it in which graduations stand upright."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled

if TYPE_CHECKING:
    from scanner.vision.rule.band import Band

ROWS = 24
COLUMNS_PER_PX = 2
# Graduations start at an edge and reach in by some of these rows, so 0.17 to 0.33 of the width:
# at the right depth the longest ones stand alone.
DEPTHS = (2, 4, 5, 6, 7, 8)
# Groups of rows an edge: one for each depth, and the plain mean of the zone.
GROUPS = len(DEPTHS) + 1
# The zone next to an edge that may hold graduations, without the row that mixes with the floor.
_FIRST, _ZONE = 1, 9
# How far perspective slants a graduation: along over across, at the middle and from end to end.
_SLANTS = np.arange(-0.6, 0.61, 0.1)
_FANS = np.arange(-0.8, 0.81, 0.2)


@dataclass(frozen=True, slots=True, eq=False)
class TickSignal:
    """How much darker than its surroundings a bar is, row by row.

    Attributes
    ----------
    rows
        (ROWS, columns); the first row lies at the upper edge. A graduation stands at one column
        in all its rows, however perspective slants it in the photo.
    slant, fan
        Columns that a line is shifted from the lower edge to the upper one: at the middle of the
        bar, and how much more at its end than at its start.
    """

    rows: Floats
    slant: float
    fan: float

    @property
    def columns(self) -> int:
        """Number of columns along the bar."""
        return int(self.rows.shape[1])

    def share(self, column: float, height: float = 0.0) -> float:
        """Return the share of the bar at which a line lies, ``height`` -0.5 to 0.5 across it."""
        last = self.columns - 1
        moved = column + height * (self.slant + self.fan * (column / last - 0.5))
        return moved / last

    def groups(self, depths: tuple[int, ...] = DEPTHS) -> Floats:
        """Return the signal of lines that reach in from the upper edge, then from the lower one.

        A graduation starts at the edge: what is dark only further in is a number. So each group
        takes the least dark row on the way in; the last one of each edge is the zone's mean, for
        lines that do not quite touch the edge.
        """
        out = []
        for rows in (self.rows, self.rows[::-1]):
            least = np.minimum.accumulate(rows[_FIRST : _FIRST + max(depths)], axis=0)
            out += [least[depth - 1] for depth in depths]
            out.append(rows[_FIRST : _FIRST + _ZONE].mean(axis=0))
        return np.array(out)

    def of_edge(self, side: float) -> TickSignal:
        """Return the signal of the lines at one edge alone (1: upper, -1: lower), 0 at the other.

        The edges of many rules carry unlike steps, each of which is noise to the other.
        """
        rows = self.rows.copy()
        rows[ROWS // 2 :] *= side < 0
        rows[: ROWS // 2] *= side > 0
        return TickSignal(rows, self.slant, self.fan)

    def inverted(self) -> TickSignal:
        """Return the signal of light lines on a dark bar, of that of dark ones."""
        return TickSignal(-self.rows, self.slant, self.fan)

    def mean_of(self, group: int) -> tuple[Floats, float]:
        """Return the plain mean of the rows of a group of `groups`, and the height of its middle.

        Its lines lie where they are widest seen; the least of several rows has no such middle.
        """
        side, place = divmod(group, GROUPS)
        deep = DEPTHS[place] if place < len(DEPTHS) else _ZONE
        rows = (self.rows if side == 0 else self.rows[::-1])[_FIRST : _FIRST + deep]
        height = 0.5 - (_FIRST + deep / 2) / ROWS
        return rows.mean(axis=0), height if side == 0 else -height


def tick_signal(
    grey: Bytes, band: Band, *, light: bool = False, slanted: bool = True, quick: bool = False
) -> TickSignal:
    """Return the surface of a bar with its graduations upright.

    Parameters
    ----------
    light
        Look for light lines on a dark bar instead of dark ones.
    slanted
        False: take lines to run straight across.
    quick
        Half as many columns will do.
    """
    per_px = 1 if quick else COLUMNS_PER_PX
    columns = max(64, int(per_px * band.length))
    values = sampled(grey, band.grid(columns, ROWS)).astype(np.float64)
    # A share of the ground's brightness, so that shade and sun give the same lines.
    wide = int(per_px * band.width(0.5)) | 1
    # Mirrored at its ends: the last column, half floor, must not stand for all that lies beyond.
    ground = cv2.blur(values, (wide, 1), borderType=cv2.BORDER_REFLECT)
    signal = (ground - values) / np.maximum(ground, 8.0)
    if light:
        signal = -signal
    # Shadows, hands and holes are not lines: limit what one place can say.
    scatter = 1.4826 * np.median(np.abs(signal), axis=1, keepdims=True) + 0.004
    signal = np.clip(signal / scatter, -4.0, 4.0)
    if not slanted:
        return TickSignal(signal, 0.0, 0.0)
    slant, fan = _find_slant(signal, per_px * band.width(0.5))
    return TickSignal(_upright(signal, slant, fan), slant, fan)


def _heights() -> Floats:
    return np.asarray(0.5 - (np.arange(ROWS) + 0.5) / ROWS)


def _shifted(row: Floats, shift: Floats) -> Floats:
    """Return a row read at columns moved by ``shift``."""
    columns = np.arange(len(row), dtype=np.float64)
    return np.interp(columns + shift, columns, row)


def _upright(signal: Floats, slant: float, fan: float) -> Floats:
    ramp = slant + fan * (np.arange(signal.shape[1]) / (signal.shape[1] - 1) - 0.5)
    return np.array(
        [_shifted(row, height * ramp) for row, height in zip(signal, _heights(), strict=True)]
    )


def _find_slant(signal: Floats, wide: float) -> tuple[float, float]:
    """Return the slant and fan (columns over the bar's width) under which lines add up best."""
    # Both zones at once, as one complex number: a variance is that of its two parts added.
    zones = signal[_FIRST : _FIRST + _ZONE] + 1j * signal[ROWS - _FIRST - _ZONE : ROWS - _FIRST]
    # Rows of either zone lie alike about its middle.
    away = _heights()[_FIRST : _FIRST + _ZONE, None]
    away = away - away.mean()
    columns = np.arange(signal.shape[1])
    ramp = columns / (len(columns) - 1) - 0.5
    starts = np.arange(_ZONE)[:, None] * len(columns)

    def contrast(slant: float, fan: float, every: int) -> float:
        # Whole columns, half a pixel each, are enough to tell which slant is best.
        place = columns[::every] + away * (wide * (slant + fan * ramp[::every]))
        np.rint(place, out=place)
        np.clip(place, 0, len(columns) - 1, out=place)
        place += starts
        added = zones.take(place.astype(np.intp)).sum(axis=0)
        added -= added.mean()
        total = float(np.vdot(added, added).real) / len(added)
        # Where nothing slants all are alike: prefer the plain view.
        return total * (1 - 0.02 * abs(slant) - 0.01 * abs(fan))

    def best(slants: Floats, fans: Floats, every: int = 1) -> tuple[float, float]:
        tried = [(float(slant), float(fan)) for slant in slants for fan in fans]
        return max((contrast(*one, every), *one) for one in tried)[1:]

    # Roughly first, where every third column will do.
    slant, fan = best(_SLANTS, _FANS, 3)
    slant, fan = best(slant + np.array([-0.05, 0.0, 0.05]), fan + np.array([-0.1, 0.0, 0.1]))
    slant, fan = best(slant + np.array([-0.02, 0.0, 0.02]), fan + np.array([-0.04, 0.0, 0.04]))
    return slant * wide, fan * wide
