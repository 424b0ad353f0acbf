"""The numba loops of one board: the best parts for given prices, and what fills the gaps.

Arrays in, arrays out, whole numbers, no wood words; rows and positions as in ``ground.py``.
P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more dimensions",
Operations Research 13 (1965): a knapsack across for every stretch along, and a knapsack of
stretches.

numba's cache looks at this file's own date: after a change in ``strips.py`` or
``mixed.py`` touch this one.
"""

# numba infers the types; its caller, patterns, states them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

from scanner.placement.kernels.mixed import (
    MOST_COPIES,
    MOST_LEVELS,
    all_levels,
    groups_of,
    next_end,
)
from scanner.placement.kernels.strips import (
    BIG,
    MOST_IN_A_STRIP,
    all_ends,
    bands_of,
    best_stack,
    stack_value,
    strip_ends,
)


@njit(cache=True, nogil=True)
def best_pattern(
    pointer, runs, length, width, fills, pitch, price, left, kerf, bucket, x0, x1, reach, is_close,
):  # fmt: skip
    """Return the best parts of one board by value, within the copies left.

    A knapsack along x of sections; each section holds a knapsack across of strips; each strip holds
    copies of one type, as far to the left as clear ground lets them, or (``is_close``, slower)
    copies of all types of one width. Of the places where a section may begin, one in each bucket
    is kept: the most valuable, at its true position (``is_close``: by its true value at once).

    Of one type a strip holds at most ``strips.MOST_IN_A_STRIP`` copies, a mixed one at most
    ``mixed.MOST_COPIES`` in all and the best ``mixed.MOST_LEVELS`` of its levels: what lies is
    allowed all the same, and only where parts are far shorter than the board could more be had.

    Parameters: pointer (T, rows + 1), runs (n, 2) clear intervals of every type and row; length,
    width, pitch (T,) along, across, and across with the kerf in rows; fills as in ``filled``; price
    (T,) float32; left (T,) copies; reach: longest section. Returns (n, 7) int32: type, x, row,
    section, strip, and where the section begins and ends; sections are counted from the far end.
    """
    types, rows = pointer.shape[0], pointer.shape[1] - 1
    group_ptr, group = groups_of(width, fills, price, left, pointer)
    if not is_close:
        group_ptr = group_ptr[:1]
    groups = len(group_ptr) - 1
    keep = np.empty(types + groups, np.int64)
    n_active, block, tallest = 0, rows, 1
    for t in range(types):
        if price[t] > 0 and left[t] > 0 and pointer[t, rows] > pointer[t, 0]:
            keep[n_active] = t
            n_active += 1
            block = min(block, pitch[t])
            tallest = max(tallest, pitch[t])
    rise = np.empty(types + groups, np.int64)
    rise[:types] = pitch
    for g in range(groups):
        rise[types + g] = pitch[group[group_ptr[g]]]
        keep[n_active] = types + g
        n_active += 1
    active = keep[:n_active]
    if n_active == 0:
        return np.empty((0, 7), np.int32)
    block = max(block, 1)
    behind = bands_of(pointer, runs)
    most_strips = rows // block + 1
    buckets = (x1 + kerf - x0) // bucket + 2
    value = np.full(buckets, -1.0, np.float64)
    place = np.zeros(buckets, np.int64)
    begin = np.full(buckets, -1, np.int64)
    finish = np.zeros(buckets, np.int64)
    used = np.zeros((buckets, types), np.int32)
    strip_count = np.zeros(buckets, np.int64)
    strip_list = np.zeros((buckets, most_strips, 3), np.int32)
    strip_kinds = np.zeros((buckets if groups else 0, most_strips, MOST_COPIES), np.int16)
    strip_many = np.zeros((buckets if groups else 0, most_strips), np.int64)
    most_ends = MOST_LEVELS + 1 if groups else MOST_IN_A_STRIP
    ends = np.empty((types + groups, most_ends, rows), np.int32)
    deepest = np.zeros(types + groups, np.int64)
    levels = np.zeros((groups, most_ends, rows), np.float32)
    kinds = np.zeros((groups, most_ends, rows, MOST_COPIES), np.int16)
    many = np.zeros((groups, most_ends, rows), np.int64)
    worth = np.zeros((types + groups, rows), np.float32)
    stack = np.zeros(rows + tallest + 1, np.float32)
    exact = np.zeros(rows + tallest + 1, np.float64)
    chosen = np.zeros(rows + tallest + 1, np.int64)
    copies = np.zeros(rows + tallest + 1, np.int64)
    strips = np.zeros((rows + tallest + 1, 3), np.int32)
    last_end = np.zeros(buckets, np.int64)
    nearest = np.zeros((types + groups, most_ends), np.int64)
    within = np.zeros((types + groups, 2), np.int64)
    candidate = np.zeros(buckets, np.int64)
    ahead = np.zeros(buckets, np.float64)
    todo = np.zeros((buckets + 8, 3), np.float64)
    remaining = left.copy()
    value[0], place[0] = 0.0, x0
    # numba has a type for each bare number, and compiles what one is handed to once more for it.
    best, best_state = -1.0, np.int64(0)
    for state in range(buckets):
        if value[state] <= best:
            continue
        if begin[state] >= 0:
            # Settle the state: its strips within the copies left, and where it truly ends.
            a = begin[state]
            for t in range(types):
                remaining[t] = left[t] - used[a, t]
            all_ends(
                pointer, runs, length, behind, active, remaining, place[a], finish[state], kerf,
                ends, deepest,
            )  # fmt: skip
            if groups:
                all_levels(
                    pointer, runs, length, behind, group_ptr, group, active, types, price,
                    remaining, place[a], finish[state], kerf, ends, deepest, levels, kinds, many,
                )  # fmt: skip
            count, gain, last = best_stack(
                ends, deepest, price, levels, kinds, many, rise, active, remaining, finish[state],
                rows, exact, chosen, copies, strips,
            )  # fmt: skip
            value[state] = value[a] + gain
            if value[state] <= best:
                continue
            place[state] = last + kerf
            finish[state] = last
            strip_count[state] = count
            strip_list[state, :count] = strips[:count]
            used[state] = used[a]
            for i in range(count):
                t = strips[i, 0]
                if t < types:
                    used[state, t] += strips[i, 2]
                    continue
                j, n = strips[i, 1], strips[i, 2] - 1
                strip_kinds[state, i] = kinds[t - types, n, j]
                strip_many[state, i] = many[t - types, n, j]
                for c in range(strip_many[state, i]):
                    used[state, strip_kinds[state, i, c]] += 1
        best, best_state = value[state], np.int64(state)
        x = place[state]
        stop = min(x1, x + reach)
        last_end[:] = 0
        for t in range(types):
            remaining[t] = left[t] - used[state, t]
        all_ends(pointer, runs, length, behind, active, remaining, x, stop, kerf, ends, deepest)
        if groups:
            all_levels(
                pointer, runs, length, behind, group_ptr, group, active, types, price,
                remaining, x, stop, kerf, ends, deepest, levels, kinds, many,
            )  # fmt: skip
        for t in active:
            within[t, 0], within[t, 1] = rows, 0
            if deepest[t] > 0:
                for j in range(rows):
                    if ends[t, 0, j] < BIG:
                        within[t, 0] = min(within[t, 0], j)
                        within[t, 1] = j + 1
            for i in range(deepest[t]):
                nearest[t, i] = BIG
                before = BIG
                for j in range(rows):
                    end = ends[t, i, j]
                    # Most rows end where the one before does.
                    if end < BIG and end != before:
                        if end < nearest[t, i]:
                            nearest[t, i] = end
                        where = (end + kerf - x0) // bucket
                        if end > last_end[where]:
                            last_end[where] = end
                    before = end
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
            gain = stack_value(
                ends, deepest, nearest, within, price, levels, rise, active, last_end[where], rows,
                block, worth, stack,
            )  # fmt: skip
            total = value[state] + gain
            is_better = total > value[where] and total > ahead[where]
            known = total
            if is_better and is_close:
                # Within the copies left, lest a stack of copies that nobody wants hides a true one.
                _, gain, _ = best_stack(
                    ends, deepest, price, levels, kinds, many, rise, active, remaining,
                    last_end[where], rows, exact, chosen, copies, strips,
                )  # fmt: skip
                known = value[state] + gain
                is_better = known > value[where] and known > ahead[where]
            if is_better:
                value[where] = known
                place[where] = last_end[where] + kerf
                begin[where] = state
                finish[where] = last_end[where]
            if total <= ahead[candidate[lo]] or lo == hi:
                continue
            half = (lo + hi) // 2
            todo[depth, 0], todo[depth, 1] = lo, half
            depth += 1
            if half + 1 < hi and total > ahead[candidate[half + 1]]:
                todo[depth, 0], todo[depth, 1] = half + 1, hi - 1
                depth += 1
    return _read_back(
        pointer, runs, length, kerf, ends, place, begin, finish, strip_count, strip_list,
        strip_kinds, strip_many, best_state, np.sum(used[best_state]),
    )  # fmt: skip


@njit(cache=True, nogil=True)
def _read_back(
    pointer, runs, length, kerf, ends, place, begin, finish, strip_count, strip_list, strip_kinds,
    strip_many, state, copies,
):  # fmt: skip
    """Return what lies up to a state, ``copies`` in all, as ``best_pattern`` does.

    The other arrays are those of ``best_pattern``; ``ends`` is scratch.
    """
    types = len(length)
    out = np.empty((copies, 7), np.int32)
    n, section = 0, 0
    while begin[state] >= 0:
        a = begin[state]
        for i in range(strip_count[state]):
            t, j, m = strip_list[state, i]
            first = n
            if t >= types:
                at = place[a]
                for c in range(strip_many[state, i]):
                    u = strip_kinds[state, i, c]
                    end = next_end(pointer, runs, length, u, j, at)
                    out[n, 0], out[n, 1] = u, end - length[u]
                    at = end + kerf
                    n += 1
            else:
                got = strip_ends(
                    pointer, runs, length, t, j, place[a], m, finish[state], kerf, ends[t]
                )
                for c in range(got):
                    out[n, 0], out[n, 1] = t, ends[t, c, j] - length[t]
                    n += 1
            for c in range(first, n):
                out[c, 2], out[c, 3], out[c, 4] = j, section, i
                out[c, 5], out[c, 6] = place[a], finish[state]
        section += 1
        state = a
    return out[:n].copy()


@njit(cache=True, nogil=True)
def filled(pointer, runs, length, width, deep, fills, price, left, kerf, same_width, pattern):
    """Return the pattern with the gaps of its strips filled by further parts.

    A part that fills is as wide as the strip's own (``same_width``) or narrower, then anywhere
    across the strip. Dearest part first, each as far to the left as it goes. ``deep`` (T,): rows
    that a type covers; ``fills`` (T,): whether gaps beside a type are filled at all; ``pattern``
    (n, 7) as ``best_pattern`` returns it, strip by strip.
    """
    types = len(length)
    remaining = left.copy()
    for i in range(len(pattern)):
        remaining[pattern[i, 0]] -= 1
    most = len(pattern)
    for t in range(types):
        if price[t] > 0 and remaining[t] > 0:
            most += remaining[t]
    out = np.empty((most, 7), np.int32)
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
            while n < len(out) and fills[own]:
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
                at = pattern[i, 1] + length[pattern[i, 0]] + kerf
        first = after
    return out[:n].copy()
