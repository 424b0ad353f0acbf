"""The numba loops of the bound: the best bar along or across for given prices.

A bar is a line through a board; the things that it crosses lie one after another on it. Arrays in,
arrays out, whole numbers, no wood words. ``may`` (K, N, T) says in which of N cells a thing of
type t may begin on a bar of kind k; ``many`` (K,) how many bars there are of each kind.
"""

# numba infers the types; the callers in bars state them.
# ruff: noqa: ANN001, ANN201
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def spread_along(starts, wide):
    """Return starts (rows, N) with each True drawn out over ``wide`` more rows downwards."""
    rows, cells = starts.shape
    out = np.zeros((rows + wide, cells), np.bool_)
    last = np.full(cells, -1, np.int64)
    for row in range(rows + wide):
        for cell in range(cells):
            if row < rows and starts[row, cell]:
                last[cell] = row
            out[row, cell] = last[cell] >= 0 and row - last[cell] <= wide
    return out


@njit(cache=True, nogil=True)
def fill_starts(pointer, starts, row_step, cell, x0, out):
    """Mark in out (rows, N) the cells that hold an allowed start; rows are gathered by step."""
    for row in range(len(pointer) - 1):
        for r in range(pointer[row], pointer[row + 1]):
            low = (starts[r, 0] - x0) // cell
            high = (starts[r, 1] - x0) // cell
            for c in range(max(low, 0), min(high, out.shape[1] - 1) + 1):
                out[row // row_step, c] = True


@njit(cache=True, nogil=True)
def best_bars(may, many, long, price, counts):
    """Return the sum over all bars of the best price on each, and fill counts (T,).

    long (T,): cells from one thing to the next at least; price (T,): of a thing on one bar; things
    without a price are left out. counts: how often each type lies on all bars together.
    """
    kinds, cells, types = may.shape
    longest = 1
    priced = np.empty(types, np.int64)
    n_priced = 0
    for t in range(types):
        longest = max(longest, long[t])
        if price[t] > 0:
            priced[n_priced] = t
            n_priced += 1
    dear = priced[:n_priced]
    best = np.zeros(cells + longest + 1)
    chosen = np.full(cells + longest + 1, -1, np.int64)
    counts[:] = 0.0
    total = 0.0
    for k in range(kinds):
        best[:] = 0.0
        chosen[:] = -1
        for c in range(cells):
            if c > 0 and best[c - 1] > best[c]:
                best[c] = best[c - 1]
                chosen[c] = -1
            here = best[c]
            allowed = may[k, c]
            for t in dear:
                if allowed[t]:
                    end = c + long[t]
                    if here + price[t] > best[end]:
                        best[end] = here + price[t]
                        chosen[end] = t
        top = cells
        if best[cells - 1] > best[cells]:
            best[cells] = best[cells - 1]
            chosen[cells] = -1
        for c in range(cells, cells + longest + 1):
            if best[c] > best[top]:
                top = c
        total += many[k] * best[top]
        while top > 0:
            t = chosen[top]
            if t < 0:
                top -= 1
            else:
                counts[t] += many[k]
                top -= long[t]
    return total
