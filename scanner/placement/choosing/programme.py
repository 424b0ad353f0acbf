"""Linear and whole-number programmes: the one place that calls HiGHS (as scipy carries it)."""

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

Floats = NDArray[np.float64]
# What scipy says of a programme that has no answer.
_IMPOSSIBLE = 2


@dataclass(frozen=True, slots=True)
class Found:
    """The answer of a programme.

    Attributes
    ----------
    value
        Objective of the answer; None where none was found.
    x
        The variables; None where none was found.
    prices
        What one more unit of each row's limit would be worth (linear programmes only).
    bound
        What no answer can beat, as far as it was proven (whole-number programmes only).
    """

    value: float | None
    x: Floats | None
    prices: Floats
    bound: float | None = None


def most(gain: Floats, matrix: sparse.csr_matrix, limit: Floats, upper: Floats) -> Found:
    """Maximise gain . x subject to matrix x <= limit and 0 <= x <= upper, in fractions.

    ``gain`` and ``upper`` are (N,), ``matrix`` is (M, N) and ``limit`` (M,).
    """
    bounds = cast("Any", np.stack((np.zeros(len(upper)), upper), axis=1))
    answer = linprog(-gain, A_ub=cast("Any", matrix), b_ub=limit, bounds=bounds, method="highs")
    if answer.fun is None:
        # Limits that differ in their last digits only make presolve believe that there is none.
        answer = linprog(
            -gain,
            A_ub=cast("Any", matrix),
            b_ub=limit,
            bounds=bounds,
            method="highs",
            options={"presolve": False},
        )
    prices = -np.asarray(answer.ineqlin.marginals, np.float64)
    return Found(-float(cast("float", answer.fun)), np.asarray(answer.x), prices)


def most_whole(
    gain: Floats,
    matrix: sparse.csr_matrix,
    limit: Floats,
    upper: Floats,
    nodes: int,
    seconds: float = float("inf"),
) -> Found:
    """Maximise the same in whole numbers, within so many nodes and seconds."""
    options: dict[str, float] = {"node_limit": nodes, "mip_rel_gap": 1e-5}
    if np.isfinite(seconds):
        options["time_limit"] = max(0.05, seconds)
    return _whole(-gain, LinearConstraint(matrix, -np.inf, limit), np.zeros(len(upper)), upper,
                  options)  # fmt: skip


def least_whole(
    cost: Floats,
    rows: Floats,
    least: Floats,
    lower: Floats,
    upper: Floats,
    nodes: int,
) -> Found:
    """Minimise cost . x subject to rows x >= least and lower <= x <= upper, in whole numbers.

    ``cost``, ``lower`` and ``upper`` are (N,), ``rows`` is (M, N) and ``least`` (M,).
    """
    options: dict[str, float] = {"node_limit": nodes, "mip_rel_gap": 1e-4}
    found = _whole(cost, LinearConstraint(rows, least, np.inf), lower, upper, options)
    value = None if found.value is None else -found.value
    return Found(value, found.x, found.prices, None if found.bound is None else -found.bound)


def any_whole(
    matrix: sparse.csr_matrix,
    limit: Floats,
    upper: Floats,
    nodes: int,
    seconds: float = float("inf"),
) -> tuple[Floats | None, bool]:
    """Return whole numbers that keep matrix x <= limit and 0 <= x <= upper, or None.

    Also returns whether it is proven that there are none.
    """
    options: dict[str, float] = {"node_limit": nodes, "presolve": False}
    if np.isfinite(seconds):
        options["time_limit"] = max(0.05, seconds)
    answer = milp(
        np.zeros(len(upper)),
        constraints=LinearConstraint(matrix, -np.inf, limit),
        integrality=np.ones(len(upper), np.int64),
        bounds=Bounds(np.zeros(len(upper)), upper),
        options=cast("Any", options),
    )
    return answer.x, bool(answer.status == _IMPOSSIBLE)


def _whole(
    cost: Floats,
    constraint: LinearConstraint,
    lower: Floats,
    upper: Floats,
    options: dict[str, float],
) -> Found:
    answer = milp(
        cost,
        constraints=constraint,
        integrality=np.ones(len(cost), np.int64),
        bounds=Bounds(lower, upper),
        # Presolve gains nothing on these (measured on seeds 102-108), and took some fractions that
        # are possible for impossible. Where HiGHS repairs an answer it prints a line to stdout;
        # none of its options keeps it from that.
        options=cast("Any", {**options, "presolve": False}),
    )
    nothing = np.zeros(0)
    bound = getattr(answer, "mip_dual_bound", None)
    proven = None if bound is None else -float(bound)
    if answer.x is None:
        return Found(None, None, nothing, proven)
    return Found(-float(answer.fun), np.asarray(answer.x), nothing, proven)
