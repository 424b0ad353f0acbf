"""Logistic models by penalised maximum likelihood: the one fit behind every table of weights."""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

Doubles = NDArray[np.float64]


def standardised(
    values: Doubles, least_spread: float, most: float
) -> tuple[Doubles, Doubles, Doubles]:
    """Return values (N, M) against their middles and half-spreads, clipped, and both of these."""
    middle = np.median(values, axis=0)
    low, high = np.percentile(values, [16, 84], axis=0)
    spread = np.maximum((high - low) / 2, least_spread)
    return np.clip((values - middle) / spread, -most, most), middle, spread


def fit_logistic(
    design: Doubles, right: Doubles, penalty: float, weight: Doubles | float = 1.0
) -> Doubles:
    """Return the offset and the weights of the columns (1 + M,) that make ``right`` likeliest.

    Parameters
    ----------
    design
        (N, M) measures, without a column of ones.
    right
        (N,) 0 or 1.
    penalty
        On half the sum of the squared weights; the offset is free.
    weight
        How much each row counts.
    """
    rows = np.hstack([np.ones((len(design), 1)), design])

    def loss(theta: Doubles) -> tuple[float, Doubles]:
        odds = rows @ theta
        pull = np.concatenate([[0.0], theta[1:]])
        value = (weight * (np.logaddexp(0, odds) - right * odds)).sum()
        slope = rows.T @ (weight * (1 / (1 + np.exp(-odds)) - right)) + penalty * pull
        return float(value + 0.5 * penalty * pull @ pull), np.asarray(slope)

    found = minimize(loss, np.zeros(rows.shape[1]), jac=True, method="L-BFGS-B").x
    return np.asarray(found, dtype=np.float64)
