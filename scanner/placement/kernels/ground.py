"""The numba loops over clear ground: arrays in, arrays out, whole numbers, no wood words.

Rows are bands of ``h`` tenths of a millimetre across the board; positions along it are tenths.
The clear intervals of a window of rows come from unions of two windows of 2^n rows, as in range
queries by a sparse table.
"""

# numba infers the types; the callers in problem, patterns and offcuts state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import math

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def _sort_spans(spans, n):
    """Sort the first n spans by their start (insertion: few, and quick to compile)."""
    for i in range(1, n):
        start, stop = spans[i, 0], spans[i, 1]
        j = i - 1
        while j >= 0 and spans[j, 0] > start:
            spans[j + 1, 0] = spans[j, 0]
            spans[j + 1, 1] = spans[j, 1]
            j -= 1
        spans[j + 1, 0] = start
        spans[j + 1, 1] = stop


@njit(cache=True, nogil=True)
def blocked_rows(edges, polygon, y0, h, rows, most):
    """Return what each row has blocked: sorted, apart, rounded outwards.

    Parameters: edges (N, 4) float64 tenths x, y, x, y of all rings; polygon (P + 1,) first edge of
    each polygon; rows of height h from y0; most: room for intervals in a row.
    Returns (rows, most, 2) int32 and (rows,) int32 how many.
    """
    out = np.zeros((rows, most, 2), np.int32)
    count = np.zeros(rows, np.int32)
    spans = np.zeros((2 * len(edges) + 2, 2), np.float64)
    crossings = np.zeros((len(edges) + 1, 2), np.float64)
    for row in range(rows):
        low, high = y0 + row * h, y0 + (row + 1) * h
        middle = (low + high) / 2
        n = np.int64(0)
        for p in range(len(polygon) - 1):
            crossed = np.int64(0)
            for e in range(polygon[p], polygon[p + 1]):
                xa, ya, xb, yb = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
                if min(ya, yb) >= high or max(ya, yb) <= low:
                    continue
                x1, x2 = xa, xb
                if ya != yb:
                    slope = (xb - xa) / (yb - ya)
                    x1 = xa + (min(max(ya, low), high) - ya) * slope
                    x2 = xa + (min(max(yb, low), high) - ya) * slope
                spans[n, 0], spans[n, 1] = min(x1, x2), max(x1, x2)
                n += 1
                if (ya <= middle) != (yb <= middle):
                    crossings[crossed, 0] = xa + (middle - ya) * (xb - xa) / (yb - ya)
                    crossed += 1
            _sort_spans(crossings, crossed)
            for i in range(0, crossed - 1, 2):
                spans[n, 0], spans[n, 1] = crossings[i, 0], crossings[i + 1, 0]
                n += 1
        _sort_spans(spans, n)
        m = 0
        for i in range(n):
            start = math.floor(spans[i, 0] + 1e-6)
            end = math.ceil(spans[i, 1] - 1e-6)
            # Where room runs out the last interval swallows the rest: safe, never wrong.
            if m > 0 and (start <= out[row, m - 1, 1] or m == most):
                if end > out[row, m - 1, 1]:
                    out[row, m - 1, 1] = end
            else:
                out[row, m, 0], out[row, m, 1] = start, end
                m += 1
        count[row] = m
    return out, count


@njit(cache=True, nogil=True)
def blocked_windows(edges, polygon, kind, y0, h, rows, most):
    """Return the blocked intervals of windows of 2^level rows, for K kinds of blocked ground.

    edges, polygon, y0, h, rows and most as in ``blocked_rows``; kind (K + 1,) first polygon of each
    kind. Returns (K, levels, rows, most, 2), of which only so many intervals as (K, levels, rows)
    says are set.
    """
    kinds = len(kind) - 1
    levels = 1
    while 2**levels <= rows:
        levels += 1
    out = np.empty((kinds, levels, rows, most, 2), np.int32)
    number = np.zeros((kinds, levels, rows), np.int32)
    for k in range(kinds):
        if kind[k + 1] > kind[k]:
            own = polygon[kind[k] : kind[k + 1] + 1]
            blocked, count = blocked_rows(edges, own, y0, h, rows, most)
            doubled(blocked, count, out[k], number[k])
    return out, number


@njit(cache=True, nogil=True)
def doubled(table, count, out, number):
    """Fill out (levels, rows, most, 2), number (levels, rows) with unions of 2^level rows."""
    levels, rows, most = out.shape[0], out.shape[1], out.shape[2]
    for row in range(rows):
        number[0, row] = count[row]
        for i in range(count[row]):
            out[0, row, i, 0] = table[row, i, 0]
            out[0, row, i, 1] = table[row, i, 1]
    half = 1
    for level in range(1, levels):
        for row in range(rows - 2 * half + 1):
            other = row + half
            i = j = m = 0
            na, nb = number[level - 1, row], number[level - 1, other]
            while i < na or j < nb:
                from_first = j >= nb
                if i < na and j < nb:
                    from_first = out[level - 1, row, i, 0] <= out[level - 1, other, j, 0]
                if from_first:
                    start, end = out[level - 1, row, i, 0], out[level - 1, row, i, 1]
                    i += 1
                else:
                    start, end = out[level - 1, other, j, 0], out[level - 1, other, j, 1]
                    j += 1
                if m > 0 and (start <= out[level, row, m - 1, 1] or m == most):
                    if end > out[level, row, m - 1, 1]:
                        out[level, row, m - 1, 1] = end
                else:
                    out[level, row, m, 0], out[level, row, m, 1] = start, end
                    m += 1
            number[level, row] = m
        half *= 2


@njit(cache=True, nogil=True)
def _row_runs(tables, counts, windows, deep, row, x0, x1, shortest, found, out, n):
    """Add the clear intervals of one start row to out from n on; return how many out holds."""
    m = np.int64(0)
    for w in range(len(windows)):
        kind = windows[w, 0]
        low = row + max(windows[w, 1], 0)
        high = row + min(windows[w, 2], deep)
        if high <= low:
            continue
        level = 0
        while 2 ** (level + 1) <= high - low:
            level += 1
        for first in (low, high - 2**level):
            for i in range(counts[kind, level, first]):
                found[m, 0] = tables[kind, level, first, i, 0]
                found[m, 1] = tables[kind, level, first, i, 1]
                m += 1
    _sort_spans(found, m)
    at = x0
    for i in range(m):
        # What is blocked beyond x1, as a flaw drawn off the board, makes no clear ground out there.
        until = min(found[i, 0], x1)
        if until - at >= shortest:
            out[n, 0], out[n, 1] = at, until
            n += 1
        at = max(at, found[i, 1])
    if x1 - at >= shortest:
        out[n, 0], out[n, 1] = at, x1
        n += 1
    return n


@njit(cache=True, nogil=True)
def clear_runs_of_all(tables, counts, windows, deep, x0, x1, shortest):
    """Return the clear intervals of every start row of T things, ``deep`` rows wide each.

    tables (K, levels, rows, most, 2), counts (K, levels, rows): K kinds of blocked ground;
    windows (T, W, 3) int64: kind, first and last-but-one row, relative to the start row, that must
    be clear of it; deep, shortest (T,). Returns (T, rows + 1) int32 pointers, (n, 2) int32
    intervals.
    """
    rows, most = tables.shape[2], tables.shape[3]
    in_a_row = windows.shape[1] * 2 * most + 1
    pointer = np.zeros((len(windows), rows + 1), np.int32)
    out = np.empty((4096 + in_a_row, 2), np.int32)
    found = np.empty((in_a_row, 2), np.int32)
    n = np.int64(0)
    for t in range(len(windows)):
        for row in range(rows):
            pointer[t, row] = n
            if row + deep[t] > rows:
                continue
            if n + in_a_row > len(out):
                longer = np.empty((2 * len(out), 2), np.int32)
                longer[:n] = out[:n]
                out = longer
            n = _row_runs(
                tables, counts, windows[t], deep[t], row, x0, x1, shortest[t], found, out, n
            )
        pointer[t, rows] = n
    return pointer, out[:n].copy()


@njit(cache=True, nogil=True)
def clear_runs(tables, counts, windows, deep, x0, x1, shortest):
    """Return the same of one thing: windows (W, 3), pointers (rows + 1,)."""
    pointer, runs = clear_runs_of_all(
        tables, counts, windows.reshape(1, *windows.shape), np.array([deep]), x0, x1,
        np.array([shortest]),
    )  # fmt: skip
    return pointer[0], runs


@njit(cache=True, nogil=True)
def either(pointer, runs, other_pointer, other_runs):
    """Return the intervals of two answers of ``clear_runs_of_all`` together, in each row by start.

    Also returns (n,) int8 where each came from, 1 or 2.
    """
    types, rows = pointer.shape[0], pointer.shape[1] - 1
    both = np.zeros((types, rows + 1), np.int32)
    out = np.empty((len(runs) + len(other_runs), 2), np.int32)
    source = np.empty(len(out), np.int8)
    n = 0
    for t in range(types):
        for row in range(rows):
            both[t, row] = n
            i, j = pointer[t, row], other_pointer[t, row]
            while i < pointer[t, row + 1] or j < other_pointer[t, row + 1]:
                is_first = j >= other_pointer[t, row + 1] or (
                    i < pointer[t, row + 1] and runs[i, 0] <= other_runs[j, 0]
                )
                if is_first:
                    out[n], source[n] = runs[i], 1
                    i += 1
                else:
                    out[n], source[n] = other_runs[j], 2
                    j += 1
                n += 1
        both[t, rows] = n
    return both, out, source


@njit(cache=True, nogil=True)
def common_starts(pointer, starts, other_pointer, other_starts, along, across):
    """Return where one thing may start and another, so far along and rows across from it, too.

    pointer (rows + 1,) and starts (n, 2): the first and last place of each interval, by row.
    Returns the same two for both together.
    """
    rows = len(pointer) - 1
    out_pointer = np.zeros(rows + 1, np.int32)
    out = np.zeros((len(starts) + len(other_starts) + 1, 2), np.int32)
    n = 0
    for row in range(rows):
        out_pointer[row] = n
        beside = row + across
        if beside >= rows:
            continue
        i, j = pointer[row], other_pointer[beside]
        while i < pointer[row + 1] and j < other_pointer[beside + 1]:
            low = max(starts[i, 0], other_starts[j, 0] - along)
            high = min(starts[i, 1], other_starts[j, 1] - along)
            if low <= high:
                out[n, 0], out[n, 1] = low, high
                n += 1
            if starts[i, 1] < other_starts[j, 1] - along:
                i += 1
            else:
                j += 1
    out_pointer[rows] = n
    return out_pointer, out[:n].copy()
