"""Fit what tells right from wrong by penalised maximum likelihood; for `tests.bench.fit_flaws`."""

from dataclasses import dataclass

import numpy as np

from scanner.vision.training.logistic import fit_logistic, standardised


@dataclass(frozen=True)
class Logistic:
    offset: float
    middle: np.ndarray
    spread: np.ndarray
    linear: np.ndarray
    square: np.ndarray

    def print(self, names):
        print(f"offset {self.offset:.3f}")
        for row in zip(names, self.middle, self.spread, self.linear, self.square, strict=True):
            print('("{}", {:.4g}, {:.4g}, {:.3f}, {:.3f}),'.format(*row))


def logistic(values, right, weight, penalty: float = 3.0) -> Logistic:
    """Fit by penalised maximum likelihood on standardised values and their squares less one."""
    values, right, weight = (np.asarray(v, dtype=float) for v in (values, right, weight))
    z, middle, spread = standardised(values, 1e-3, 3.0)
    theta = fit_logistic(np.hstack([z, z**2 - 1]), right, penalty, weight)
    n = values.shape[1]
    return Logistic(theta[0], middle, spread, theta[1 : n + 1], theta[n + 1 :])
