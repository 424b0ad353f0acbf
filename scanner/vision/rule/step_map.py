"""Which of a rule's steps lies where along its bar: perspective, and a lens that bends it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats

# No line may pull the map by less than this, in steps: a tenth to a half of a pixel.
_LEAST_SCATTER = 0.012
_TABLE = np.linspace(-0.15, 1.15, 1301)


@dataclass(frozen=True, eq=False)
class StepMap:
    """Numbers along a bar.

    Attributes
    ----------
    foreshortening
        q of the projective map of a line: the place p (0 to 1, even on the rule) lies at the share
        q p / (1 - p + q p).
    curve
        Coefficients of the number over p, highest power first: two, or four where a lens bends
        the rule's even steps.
    """

    foreshortening: float
    curve: tuple[float, ...]

    def numbers(self, shares: Floats) -> Floats:
        """Return the numbers, with fractions, at shares of the bar."""
        q = self.foreshortening
        return np.asarray(np.polyval(self.curve, shares / (shares + q * (1 - shares))))

    def shares(self, numbers: Floats) -> Floats:
        """Return the shares of the bar where numbers lie."""
        return np.asarray(np.interp(numbers, self._of_table, _TABLE))

    def moved(self, by: float) -> StepMap:
        """Return the map with so much added to every number."""
        return StepMap(self.foreshortening, (*self.curve[:-1], self.curve[-1] + by))

    def halved(self) -> StepMap:
        """Return the map of steps twice as large."""
        return StepMap(self.foreshortening, tuple(one / 2 for one in self.curve))

    def stretched(self, before: float, after: float) -> StepMap:
        """Return the map of the same rule on a bar made longer by shares at its start and end.

        Carried on as perspective goes, without what the lens bends: a cubic runs off.
        """
        whole = 1 + before + after
        q = self.foreshortening
        if abs(q - 1) > 1e-6:
            vanishing = (q / (q - 1) + before) / whole
            q = vanishing / (vanishing - 1)
        old = np.linspace(0.0, 1.0, 51)
        new = (old + before) / whole
        curve = np.polyfit(new / (new + q * (1 - new)), self.numbers(old), 1)
        return StepMap(q, tuple(float(one) for one in curve))

    @cached_property
    def _of_table(self) -> Floats:
        return np.maximum.accumulate(self.numbers(_TABLE))

    def scatter(self, shares: Floats, numbers: NDArray[np.int_]) -> float:
        """Return how far lines of one edge stand off their even places, in steps (robust sd).

        What perspective slants the lines by goes evenly along the bar, and is no scatter.
        """
        at = self.numbers(shares)
        off = at - numbers
        off = off - np.polyval(np.polyfit(at, off, 1), at)
        return 1.4826 * float(np.median(np.abs(off)))

    def fitted(
        self, shares: Floats, numbers: NDArray[np.int_]
    ) -> tuple[StepMap, NDArray[np.bool_]]:
        """Return the map that lines lie on, and which of them agree with it."""
        q = self.foreshortening
        place = shares / (shares + q * (1 - shares))
        fitted: StepMap = self
        # Start from lines near the old map, so that no far speck bends the new one.
        off = np.abs(self.numbers(shares) - numbers)
        keep = np.asarray(off <= max(0.06, float(np.median(off))))
        for _ in range(6):
            if keep.sum() < 4:
                return self, np.ones(len(numbers), dtype=bool)
            reach = np.ptp(place[keep])
            degree = 3 if keep.sum() >= 12 and reach > 0.5 else 1
            curve = np.polyfit(place[keep], numbers[keep], degree)
            fitted = StepMap(q, tuple(float(one) for one in curve))
            off = np.abs(fitted.numbers(shares) - numbers)
            scatter = max(_LEAST_SCATTER, 1.4826 * float(np.median(off[keep])))
            again = np.asarray(off < 4 * scatter)
            if (again == keep).all():
                break
            keep = again
        return fitted, keep
