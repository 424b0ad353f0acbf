"""A face's length as evidence: with the unknowns that the board's other face has too."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from scanner.vision.evidence.observations import Floats

_OVER = {"middle": "ends", "ends": "middle"}


@dataclass(frozen=True, slots=True, eq=False)
class ToldLength:
    """A face's length as its fit tells it, together with the unknowns that the other face shares.

    Attributes
    ----------
    names
        Of the shared unknowns: ``thickness``, ``middle`` and ``ends`` (how far the face rises
        there), ``print``, terms of one lens.
    prior, sd_prior
        Their means and standard deviations before the fit, own units, shape (N,).
    mean, covariance
        Of these unknowns and, last, the length in mm; shapes (N + 1,) and (N + 1, N + 1).
    reading_mm2
        How much of the length's variance comes from reading its two ends off the picture.
    """

    names: tuple[str, ...]
    prior: Floats
    sd_prior: Floats
    mean: Floats
    covariance: Floats
    reading_mm2: float = 0.0

    def turned_over(self) -> ToldLength:
        """Return it for the board's other face up: what rises in the middle rose at the ends."""
        return replace(self, names=tuple(_OVER.get(name, name) for name in self.names))

    def only(self, names: list[str]) -> ToldLength:
        """Return it with these unknowns alone, in this order."""
        at = [self.names.index(name) for name in names]
        with_length = [*at, len(self.names)]
        return replace(
            self,
            names=tuple(names),
            prior=self.prior[at],
            sd_prior=self.sd_prior[at],
            mean=self.mean[with_length],
            covariance=self.covariance[np.ix_(with_length, with_length)],
        )

    def prior_spread(self) -> Floats:
        """Return the covariance of the shared unknowns before the fit, (N, N).

        A bow lifts a face's middle or its ends, never both: the mean of their product is nothing,
        and so their covariance less than that by the product of their means.
        """
        spread = np.diag(self.sd_prior**2)
        if {"middle", "ends"} <= set(self.names):
            rise = [self.names.index("middle"), self.names.index("ends")]
            spread[rise, rise[::-1]] = -self.prior[rise].prod()
        return spread

    def spread(self, own_mm2: float) -> Floats:
        """Return the covariance with so much more variance of the length alone, mm2."""
        wider = np.zeros_like(self.covariance)
        wider[-1, -1] = own_mm2
        return self.covariance + wider
