"""Where the floor begins past an arris, told by how the floor further out looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Floor is looked at this far past the saw's line, and so many columns (of 4 mm) to each side.
_FROM_MM, _TO_MM, _ALONG_COLUMNS = 5, 25, 8
# A look is not the floor's where it is off by this many times what the floor's own pixels are, at
# least this (CIELAB). From 3 to 6 times, wane overlapped its truth alike on 36 faces
# (5200-5242, 5264-5283).
_UNLIKE, _LEAST_SPREAD = 4.0, 2.5
# Fewer pixels of floor have no look of their own.
_FEWEST = 20
# Single pixels and columns are noisy.
_MIDDLE_PX, _MIDDLE_COLUMNS = 3, 5


@dataclass(frozen=True, slots=True, eq=False)
class Beyond:
    """How the picture looks past each point of a traced arris.

    Attributes
    ----------
    looks
        (S, N, 3) CIELAB from the arris outwards, a millimetre each.
    seen
        (S, N) where a photo shows it.
    shows_mm
        (S,) how far past the arris the foot of a square side shows; 0 of one turned away.
    """

    looks: Singles
    seen: NDArray[np.bool_]
    shows_mm: Doubles

    def of(self, points: NDArray[np.bool_]) -> Beyond:
        """Return the same of some of the points."""
        return Beyond(self.looks[points], self.seen[points], self.shows_mm[points])

    def floor_mm(self, sawn_mm: Doubles, wanted: NDArray[np.bool_]) -> Doubles:
        """Return (S,) how far past the arris the board goes by where the floor begins, mm.

        Looked for from outside in, from the saw's line on, which lies ``sawn_mm`` (S,) past the
        arris; 0 where floor shows all the way, or where it is not ``wanted``.
        """
        line = np.maximum(sawn_mm, 0.0) + self.shows_mm
        at = np.arange(self.looks.shape[1]) + 0.5
        floor = self.seen & (at > line[:, None] + _FROM_MM) & (at < line[:, None] + _TO_MM)
        found = np.zeros(len(line))
        for column in np.flatnonzero(wanted):
            near = slice(max(0, column - _ALONG_COLUMNS), column + _ALONG_COLUMNS + 1)
            own = self.looks[near][floor[near]]
            if len(own) < _FEWEST:
                continue
            usual = np.median(own, axis=0)
            spread = np.hypot(1.48 * np.median(np.abs(own - usual), axis=0), _LEAST_SPREAD)
            inside = self.seen[column] & (at < line[column] + 2.0)
            unlike = (((self.looks[column] - usual) / spread) ** 2).sum(axis=1) > _UNLIKE**2
            last = np.flatnonzero(ndimage.median_filter(unlike & inside, _MIDDLE_PX))
            if len(last):
                found[column] = max(at[last[-1]] + 0.5 - self.shows_mm[column], 0.0)
        return np.asarray(ndimage.median_filter(found, _MIDDLE_COLUMNS), dtype=np.float64)
