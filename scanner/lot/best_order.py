"""The order and the lie of pieces that match best at their joints: exact for small groups.

Each piece may lie in several states (face up, turned end for end); between two neighbours lies a
joint that costs more the less alike its two sides are. The cheapest row of all pieces is the
shortest way through all of them (Held and Karp, 1962: dynamic programming over subsets).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Work grows with 2^n n^2: nine pieces in four states each take about a second.
MOST_EXACT = 9


@dataclass(frozen=True, slots=True)
class Row:
    """Pieces in order, each in a state, and what their joints cost together."""

    order: tuple[int, ...]
    states: tuple[int, ...]
    cost: float
    is_exact: bool


def cost_of(joints: NDArray[np.float64], order: Sequence[int], states: Sequence[int]) -> float:
    """Return what the joints of a row cost together.

    Parameters
    ----------
    joints
        (N, S, N, S): cost of piece j in state t right after piece i in state s.
    """
    return float(
        sum(joints[order[k], states[k], order[k + 1], states[k + 1]] for k in range(len(order) - 1))
    )


def best_row(joints: NDArray[np.float64], allowed: NDArray[np.bool_] | None = None) -> Row:
    """Return the row whose joints cost least.

    Parameters
    ----------
    joints
        (N, S, N, S), as in `cost_of`.
    allowed
        (N, S), which states a piece may be in; all by default.

    Returns
    -------
    Row
        Exact up to `MOST_EXACT` pieces; beyond that the nearest neighbour from each start,
        improved by exchanges.
    """
    count, kinds = joints.shape[:2]
    may = np.ones((count, kinds), np.bool_) if allowed is None else allowed
    if not may.any(axis=1).all():
        raise ValueError("a piece may lie in no state at all")
    if count == 1:
        return Row((0,), (int(np.argmax(may[0])),), 0.0, is_exact=True)
    walk = np.where(may[:, :, None, None] & may[None, None], joints, np.inf)
    return _exact(walk, may) if count <= MOST_EXACT else _improved(walk, may)


def _exact(joints: NDArray[np.float64], may: NDArray[np.bool_]) -> Row:
    count, kinds = may.shape
    nodes = count * kinds
    step = joints.reshape(nodes, nodes)
    best = np.full((1 << count, nodes), np.inf)
    before = np.full((1 << count, nodes), -1, np.int32)
    piece = np.arange(nodes) // kinds
    for node in range(nodes):
        if may.flat[node]:
            best[1 << piece[node], node] = 0.0
    for subset in range(1, 1 << count):
        inside = [k for k in range(nodes) if subset >> piece[k] & 1]
        here = best[subset, inside]
        if not np.isfinite(here).any():
            continue
        for new in range(count):
            if subset >> new & 1:
                continue
            columns = slice(new * kinds, (new + 1) * kinds)
            ways = here[:, None] + step[inside, columns]
            first = ways.argmin(axis=0)
            target = subset | 1 << new
            best[target, columns] = ways[first, np.arange(kinds)]
            before[target, columns] = np.array(inside)[first]
    node = int(best[-1].argmin())
    subset, path, cost = (1 << count) - 1, [], float(best[-1, node])
    while node >= 0:
        path.append(node)
        node, subset = int(before[subset, node]), subset & ~(1 << piece[node])
    path.reverse()
    return Row(
        tuple(int(n) // kinds for n in path), tuple(int(n) % kinds for n in path), cost, True
    )


def _improved(joints: NDArray[np.float64], may: NDArray[np.bool_]) -> Row:
    found = [_nearest(joints, start, state) for start, state in zip(*np.nonzero(may), strict=True)]
    path, cost = min(found, key=lambda one: one[1])
    better = True
    while better:
        better = False
        for i in range(len(path)):
            for j in range(i + 1, len(path)):
                other = [*path]
                other[i], other[j] = other[j], other[i]
                total = cost_of(joints, *map(list, zip(*other, strict=True)))
                if total < cost - 1e-9:
                    path, cost, better = other, total, True
    return Row(tuple(p for p, _ in path), tuple(s for _, s in path), cost, is_exact=False)


def _nearest(
    joints: NDArray[np.float64], start: int, state: int
) -> tuple[list[tuple[int, int]], float]:
    path, total = [(int(start), int(state))], 0.0
    left = set(range(len(joints))) - {int(start)}
    while left:
        here = joints[path[-1]]
        total, *next_ = min((total + float(here[p, s]), p, s) for p in left
                            for s in range(joints.shape[1]))  # fmt: skip
        path.append((int(next_[0]), int(next_[1])))
        left.remove(int(next_[0]))
    return path, total
