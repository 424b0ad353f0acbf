"""Fit what tells right from wrong by penalised maximum likelihood; for `tests.bench.fit_flaws`."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize


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
    middle = np.median(values, axis=0)
    low, high = np.percentile(values, [16, 84], axis=0)
    spread = np.maximum((high - low) / 2, 1e-3)
    z = np.clip((values - middle) / spread, -3, 3)
    design = np.hstack([np.ones((len(z), 1)), z, z**2 - 1])

    def loss(theta):
        odds = design @ theta
        share = 1 / (1 + np.exp(-odds))
        value = (weight * (np.logaddexp(0, odds) - right * odds)).sum()
        slope = design.T @ (weight * (share - right))
        pull = np.concatenate([[0.0], theta[1:]])
        return value + 0.5 * penalty * (pull**2).sum(), slope + penalty * pull

    theta = minimize(loss, np.zeros(design.shape[1]), jac=True, method="L-BFGS-B").x
    n = values.shape[1]
    return Logistic(theta[0], middle, spread, theta[1 : n + 1], theta[n + 1 :])
