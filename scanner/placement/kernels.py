"""The numba loops of the solver: arrays in, arrays out, whole numbers, no wood words.

Rows are bands of ``h`` tenths of a millimetre across the board; positions along it are tenths.

Sources: P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more
dimensions", Operations Research 13 (1965): a knapsack across for every stretch along, and a
knapsack of stretches. The clear intervals of a window of rows come from unions of two windows of
2^n rows, as in range queries by a sparse table.
"""

# numba infers the types; the callers in problem, patterns and offcuts state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False

import math

import numpy as np
from numba import njit

BIG = 2**30
MOST_IN_A_STRIP = 12


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
        n = 0
        for p in range(len(polygon) - 1):
            crossed = 0
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
def doubled(table, count):
    """Return unions of 2^level rows: (levels, rows, most, 2) and (levels, rows)."""
    rows, most = table.shape[0], table.shape[1]
    levels = 1
    while 2**levels <= rows:
        levels += 1
    out = np.zeros((levels, rows, most, 2), np.int32)
    number = np.zeros((levels, rows), np.int32)
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
    return out, number


@njit(cache=True, nogil=True)
def clear_runs(tables, counts, windows, deep, x0, x1, shortest):
    """Return the clear intervals of every start row of something ``deep`` rows wide.

    tables (K, levels, rows, most, 2), counts (K, levels, rows): K kinds of blocked ground;
    windows (W, 3) int64: kind, first and last-but-one row, relative to the start row, that must be
    clear of it. Returns (rows + 1,) int32 pointers and (n, 2) int32 intervals.
    """
    rows, most = tables.shape[2], tables.shape[3]
    pointer = np.zeros(rows + 1, np.int32)
    out = np.zeros((rows * (len(windows) * most + 1), 2), np.int32)
    found = np.zeros((2 * len(windows) * most + 1, 2), np.int32)
    n = 0
    for row in range(rows):
        pointer[row] = n
        if row + deep > rows:
            continue
        m = 0
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
            if found[i, 0] - at >= shortest:
                out[n, 0], out[n, 1] = at, found[i, 0]
                n += 1
            at = max(at, found[i, 1])
        if x1 - at >= shortest:
            out[n, 0], out[n, 1] = at, x1
            n += 1
    pointer[rows] = n
    return pointer, out[:n].copy()


@njit(cache=True, nogil=True)
def _strip_ends(pointer, runs, length, t, row, x, most, x_stop, kerf, ends):
    """Fill ends[0:n, row] with the ends of copies of t set one after another from x; return n."""
    n = 0
    at = x
    need = length[t]
    for r in range(pointer[t, row], pointer[t, row + 1]):
        start, stop = runs[r, 0], runs[r, 1]
        if start < at:
            start = at
        while n < most and start + need <= stop:
            end = start + need
            if end > x_stop:
                break
            ends[n, row] = end
            n += 1
            start = end + kerf
            at = start
        if n == most:
            break
    return n


@njit(cache=True, nogil=True)
def _all_ends(pointer, runs, length, active, remaining, x, stop, kerf, ends, deepest):
    """Fill ends[t, 0:deepest[t], row] for all types and rows from x; BIG where no copy ends."""
    rows = pointer.shape[1] - 1
    for t in active:
        most = min(remaining[t], MOST_IN_A_STRIP)
        deep = 0
        for j in range(rows):
            n = _strip_ends(pointer, runs, length, t, j, x, most, stop, kerf, ends[t])
            for i in range(n, deep):
                ends[t, i, j] = BIG
            if n > deep:
                for i in range(deep, n):
                    for k in range(j):
                        ends[t, i, k] = BIG
                deep = n
        deepest[t] = deep


@njit(cache=True, nogil=True, fastmath=True)
def _stack_value(ends, deepest, price, pitch, active, b, rows, block, worth, stack):
    """Return the value of the best stack of strips that end at b or before (copies not limited)."""
    for t in active:
        row_worth = worth[t]
        row_worth[:] = np.float32(0)
        p = price[t]
        for n in range(deepest[t]):
            row_ends = ends[t, n]
            for j in range(rows):
                row_worth[j] += p if row_ends[j] <= b else np.float32(0)
    stack[:] = np.float32(0)
    low = 0
    while low < rows:
        high = min(low + block, rows)
        for j in range(max(low, 1), high):
            if stack[j - 1] > stack[j]:
                stack[j] = stack[j - 1]
        for t in active:
            if deepest[t] > 0:
                row_worth = worth[t]
                w = pitch[t]
                for j in range(low, high):
                    total = stack[j] + row_worth[j]
                    if total > stack[j + w]:
                        stack[j + w] = total
        low = high
    best = np.float32(0)
    for j in range(len(stack)):
        if stack[j] > best:
            best = stack[j]
    return best


@njit(cache=True, nogil=True)
def _stack(ends, deepest, price, pitch, active, left, b, rows, stack, chosen, copies, strips):
    """Fill strips with (t, row, copies) of the best stack within the copies left.

    A chain across carries what it has used; the value of a state is exact, the choice greedy.
    Returns (number of strips, value, largest end).
    """
    stack[:] = 0
    chosen[:] = -1
    top = len(stack) - 1
    for j in range(top + 1):
        if j > 0 and stack[j - 1] >= stack[j]:
            stack[j] = stack[j - 1]
            chosen[j] = -1
        if j >= rows:
            continue
        for t in active:
            n = 0
            while n < deepest[t] and ends[t, n, j] <= b:
                n += 1
            if n == 0 or stack[j] + n * price[t] <= stack[j + pitch[t]]:
                continue
            used, i = 0, j
            while i > 0:
                if chosen[i] < 0:
                    i -= 1
                    continue
                if chosen[i] == t:
                    used += copies[i]
                i -= pitch[chosen[i]]
            n = min(n, left[t] - used)
            if n > 0 and stack[j] + n * price[t] > stack[j + pitch[t]]:
                stack[j + pitch[t]] = stack[j] + n * price[t]
                chosen[j + pitch[t]] = t
                copies[j + pitch[t]] = n
    count, last = 0, 0
    i = top
    value = stack[top]
    while i > 0:
        t = chosen[i]
        if t < 0:
            i -= 1
            continue
        n = copies[i]
        i -= pitch[t]
        strips[count, 0], strips[count, 1], strips[count, 2] = t, i, n
        count += 1
        last = max(last, ends[t, n - 1, i])
    return count, value, last


@njit(cache=True, nogil=True)
def best_pattern(pointer, runs, length, pitch, price, left, kerf, bucket, x0, x1, reach):
    """Return the best parts of one board by value, within the copies left.

    A knapsack along x of sections; each section holds a knapsack across of strips; each strip holds
    copies of one type, as far to the left as clear ground lets them. Of the places where a section
    may begin, one in each bucket is kept: the most valuable, at its true position.

    Parameters: pointer (T, rows + 1), runs (n, 2) clear intervals of every type and row; length,
    pitch (T,) along, and across with the kerf in rows; price (T,) float32; left (T,) copies;
    reach: longest section. Returns (n, 7) int32: type, x, row, section, strip, and where the
    section begins and ends; sections are counted from the far end.
    """
    types, rows = pointer.shape[0], pointer.shape[1] - 1
    keep = np.empty(types, np.int64)
    n_active, block, tallest = 0, rows, 1
    for t in range(types):
        if price[t] > 0 and left[t] > 0 and pointer[t, rows] > pointer[t, 0]:
            keep[n_active] = t
            n_active += 1
            block = min(block, pitch[t])
            tallest = max(tallest, pitch[t])
    active = keep[:n_active]
    out = np.empty((400, 7), np.int32)
    if n_active == 0:
        return out[:0]
    block = max(block, 1)
    buckets = (x1 + kerf - x0) // bucket + 2
    value = np.full(buckets, -1.0, np.float64)
    place = np.zeros(buckets, np.int64)
    begin = np.full(buckets, -1, np.int64)
    finish = np.zeros(buckets, np.int64)
    used = np.zeros((buckets, types), np.int32)
    strip_count = np.zeros(buckets, np.int64)
    strip_list = np.zeros((buckets, 24, 3), np.int32)
    ends = np.empty((types, MOST_IN_A_STRIP, rows), np.int32)
    deepest = np.zeros(types, np.int64)
    worth = np.zeros((types, rows), np.float32)
    stack = np.zeros(rows + tallest + 1, np.float32)
    exact = np.zeros(rows + tallest + 1, np.float64)
    chosen = np.zeros(rows + tallest + 1, np.int64)
    copies = np.zeros(rows + tallest + 1, np.int64)
    strips = np.zeros((rows + tallest + 1, 3), np.int32)
    last_end = np.zeros(buckets, np.int64)
    candidate = np.zeros(buckets, np.int64)
    ahead = np.zeros(buckets, np.float64)
    todo = np.zeros((buckets + 8, 3), np.float64)
    remaining = left.copy()
    value[0], place[0] = 0.0, x0
    best, best_state = -1.0, 0
    for state in range(buckets):
        if value[state] <= best:
            continue
        if begin[state] >= 0:
            # Settle the state: its strips within the copies left, and where it truly ends.
            a = begin[state]
            for t in active:
                remaining[t] = left[t] - used[a, t]
            _all_ends(
                pointer, runs, length, active, remaining, place[a], finish[state], kerf,
                ends, deepest,
            )  # fmt: skip
            count, gain, last = _stack(
                ends, deepest, price, pitch, active, remaining, finish[state], rows,
                exact, chosen, copies, strips,
            )  # fmt: skip
            value[state] = value[a] + gain
            if value[state] <= best or count > 24:
                continue
            place[state] = last + kerf
            finish[state] = last
            strip_count[state] = count
            strip_list[state, :count] = strips[:count]
            used[state] = used[a]
            for i in range(count):
                used[state, strips[i, 0]] += strips[i, 2]
        best, best_state = value[state], state
        x = place[state]
        stop = min(x1, x + reach)
        last_end[:] = 0
        for t in active:
            remaining[t] = left[t] - used[state, t]
        _all_ends(pointer, runs, length, active, remaining, x, stop, kerf, ends, deepest)
        for t in active:
            for i in range(deepest[t]):
                for j in range(rows):
                    end = ends[t, i, j]
                    if end < BIG:
                        where = (end + kerf - x0) // bucket
                        if end > last_end[where]:
                            last_end[where] = end
        candidates = 0
        top = -1.0
        for where in range(state, buckets):
            top = max(top, value[where])
            ahead[where] = top
            # Only onwards: a settled state may truly lie before its own bucket.
            if last_end[where] > 0 and where > state:
                candidate[candidates] = where
                candidates += 1
        if candidates == 0:
            continue
        # Halving: what ends at b is worth no more than what may end later; skip where that is
        # no better than what is already known at the near side.
        todo[0, 0], todo[0, 1] = 0, candidates - 1
        depth = 1
        while depth > 0:
            depth -= 1
            lo, hi = int(todo[depth, 0]), int(todo[depth, 1])
            if lo > hi:
                continue
            where = candidate[hi]
            gain = _stack_value(
                ends, deepest, price, pitch, active, last_end[where], rows, block, worth, stack
            )
            total = value[state] + gain
            if total > value[where] and total > ahead[where]:
                value[where] = total
                place[where] = last_end[where] + kerf
                begin[where] = state
                finish[where] = last_end[where]
            if total <= ahead[candidate[lo]] or lo == hi:
                continue
            half = (lo + hi) // 2
            todo[depth, 0], todo[depth, 1] = lo, half
            todo[depth + 1, 0], todo[depth + 1, 1] = half + 1, hi - 1
            depth += 2
    n, section = 0, 0
    state = best_state
    while begin[state] >= 0:
        a = begin[state]
        for i in range(strip_count[state]):
            t, j, m = strip_list[state, i]
            got = _strip_ends(
                pointer, runs, length, t, j, place[a], m, finish[state], kerf, ends[t]
            )
            for c in range(got):
                if n < 400:
                    out[n, 0], out[n, 1], out[n, 2] = t, ends[t, c, j] - length[t], j
                    out[n, 3], out[n, 4] = section, i
                    out[n, 5], out[n, 6] = place[a], finish[state]
                    n += 1
        section += 1
        state = a
    return out[:n].copy()


@njit(cache=True, nogil=True)
def filled(pointer, runs, length, width, deep, price, left, kerf, same_width, pattern):
    """Return the pattern with the gaps of its strips filled by further parts.

    A part that fills is as wide as the strip's own (``same_width``) or narrower, then anywhere
    across the strip. Dearest part first, each as far to the left as it goes.
    """
    types = len(length)
    remaining = left.copy()
    for i in range(len(pattern)):
        remaining[pattern[i, 0]] -= 1
    out = np.empty((len(pattern) + 200, 7), np.int32)
    out[: len(pattern)] = pattern
    n = len(pattern)
    first = 0
    while first < len(pattern):
        after = first
        while (
            after < len(pattern)
            and pattern[after, 3] == pattern[first, 3]
            and pattern[after, 4] == pattern[first, 4]
        ):
            after += 1
        own, row = pattern[first, 0], pattern[first, 2]
        at = pattern[first, 5]
        for i in range(first, after + 1):
            stop = pattern[i, 1] - kerf if i < after else pattern[first, 6]
            while n < len(out):
                best, best_x, best_row = -1, 0, 0
                for u in range(types):
                    if remaining[u] <= 0 or price[u] <= 0 or at + length[u] > stop:
                        continue
                    if width[u] > width[own] or (same_width and width[u] != width[own]):
                        continue
                    if best >= 0 and price[u] <= price[best]:
                        continue
                    found = BIG
                    found_row = row
                    for j in range(row, row + deep[own] - deep[u] + 1):
                        for r in range(pointer[u, j], pointer[u, j + 1]):
                            start = max(at, runs[r, 0])
                            if start + length[u] <= min(stop, runs[r, 1]):
                                if start < found:
                                    found, found_row = start, j
                                break
                    if found < BIG:
                        best, best_x, best_row = u, found, found_row
                if best < 0:
                    break
                out[n] = pattern[first]
                out[n, 0], out[n, 1], out[n, 2] = best, best_x, best_row
                n += 1
                remaining[best] -= 1
                at = best_x + length[best] + kerf
            if i < after:
                at = pattern[i, 1] + length[own] + kerf
        first = after
    return out[:n].copy()
