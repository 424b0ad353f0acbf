"""The numba loop that finds one pattern a board such that all together hold what is wanted.

Boards are gone through one by one, each pattern of one after the other. What is left to find must
be worth no more, at each of some prices, than the boards to come are worth at most, and of no
part more copies than they can give. The last board is not gone through: whether it gives what is
left is looked up.
"""

# numba infers the types; the callers in whole_choice state them.
# ruff: noqa: ANN001, ANN201
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

_HAIR = 1e-7


@njit(cache=True, nogil=True)
def first_choice(counts, first, price, gain, top, most, wanted, keys, unit, whole, work,
                 is_falling):  # fmt: skip
    """Return the chosen pattern of each board but the last, whether there is one, and steps taken.

    counts (P, T): patterns of all boards but the last; first (B,): where those of each begin, and
    the end of all; price (K, T): of a copy; gain (K, P): of a pattern; top (K, B + 1): what the
    boards from each on are worth at most; most (B + 1, T): copies that they give at most; keys:
    what the last board may hold, ``unit`` for a copy, rising; whole (N, T): patterns of it that
    hold what is less, too, where that is not all among the keys; work: so many steps at most, more
    are -1; is_falling: whether each board's patterns are worth less and less at the first prices.
    """
    boards, prices, parts = len(first), len(price), len(wanted)
    at, taken = first[:-1].copy(), np.zeros(boards - 1, np.int64)
    left, need = np.zeros((boards, parts), np.int64), np.zeros((boards, prices))
    left[0] = wanted
    for k in range(prices):
        for t in range(parts):
            need[0, k] += price[k, t] * wanted[t]
    b, steps = 0, 0
    while b >= 0:
        if b == boards - 1:
            key = np.int64(0)
            for t in range(parts):
                key += unit[t] * left[b, t]
            z = np.searchsorted(keys, key)
            if key == 0 or (z < len(keys) and keys[z] == key):
                return taken, True, steps
            for p in range(len(whole)):
                steps += 1
                t = 0
                while t < parts and left[b, t] <= whole[p, t]:
                    t += 1
                if t == parts:
                    return taken, True, steps
            b -= 1
            continue
        is_found = False
        while at[b] < first[b + 1]:
            p = at[b]
            at[b] += 1
            steps += 1
            if need[b, 0] - gain[0, p] > top[0, b + 1] + _HAIR:
                if is_falling:
                    at[b] = first[b + 1]
                continue
            is_found = True
            for k in range(1, prices):
                if need[b, k] - gain[k, p] > top[k, b + 1] + _HAIR:
                    is_found = False
                    break
            if not is_found:
                continue
            for t in range(parts):
                left[b + 1, t] = max(left[b, t] - counts[p, t], 0)
                if left[b + 1, t] > most[b + 1, t]:
                    is_found = False
                    break
            if not is_found:
                continue
            for k in range(prices):
                # Copies that nobody wants do not stand in for others.
                need[b + 1, k] = 0.0
                for t in range(parts):
                    need[b + 1, k] += price[k, t] * left[b + 1, t]
                if need[b + 1, k] > top[k, b + 1] + _HAIR:
                    is_found = False
                    break
            if is_found:
                taken[b] = p
                break
        if steps > work:
            return taken, False, -1
        if is_found:
            b += 1
            if b < boards - 1:
                at[b] = first[b]
        else:
            b -= 1
    return taken, False, steps
