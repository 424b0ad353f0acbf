"""A dive: whole patterns from a linear answer, a few boards at a time.

The patterns that the linear master wants most are settled, the rest is priced anew for what is
left, and so on until every board has its pattern (a diving heuristic of column generation: R.
Sadykov and others, "Primal heuristics for branch and price", INFORMS Journal on Computing 31
(2019)). With many boards this beats a whole-number programme over all patterns in the same time.
"""

from collections.abc import Callable

import numpy as np

from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.patterns import Pattern
from scanner.placement.wanted.items import Floats, Ints

# Of the boards that are still free this share is settled at once, ...
_SETTLED_AT_ONCE = 6
# ... and one that the linear answer is less sure of only where it is the surest.
_SURE = 0.6


def dive(
    pool: Pool,
    boards: frozenset[int],
    lay_out: Callable[[int, Floats, Ints], Pattern],
    is_over: Callable[[], bool],
) -> dict[int, Pattern]:
    """Return a pattern for every board, no more copies than wanted; empty where time ran out.

    ``lay_out`` finds the best pattern of a board for prices and copies left, and adds it to the
    pool.
    """
    left = pool.wanted.copy()
    free = set(boards)
    choice: dict[int, Pattern] = {}
    while free:
        if is_over():
            return {}
        share, price = pool.fractions(frozenset(free), left)
        most = max(1, len(free) // _SETTLED_AT_ONCE)
        settled = 0
        for n in np.argsort(-share, kind="stable"):
            pattern = pool.patterns[n]
            if settled and (share[n] < _SURE or settled >= most):
                break
            if pattern.board not in free:
                continue
            if share[n] <= 0 or np.any(pattern.counts > left):
                pattern = lay_out(pattern.board, pool.value, left)
            choice[pattern.board] = pattern
            left = left - pattern.counts
            free.discard(pattern.board)
            settled += 1
        if not settled:
            board = min(free)
            choice[board] = lay_out(board, pool.value, left)
            left = left - choice[board].counts
            free.discard(board)
        for board in sorted(free):
            if is_over():
                return {}
            lay_out(board, price, left)
    return choice
