"""The numba loops of a section: strips stacked across, copies of one type along each.

Rows and positions as in ``ground.py``. A knapsack across (P. C. Gilmore and R. E. Gomory,
"Multistage cutting stock problems of two and more dimensions", Operations Research 13 (1965)).
"""

# numba infers the types; its callers, board and patterns, state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

BIG = 2**30
MOST_IN_A_STRIP = 12


@njit(cache=True, nogil=True)
def strip_ends(pointer, runs, length, t, row, x, most, x_stop, kerf, ends):
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
def bands_of(pointer, runs):
    """Return behind (T, rows): from each row on, the first one whose clear runs are others.

    Of all rows of a board most are like their neighbours, and whatever lies in one lies in all of
    its band.
    """
    types, rows = pointer.shape[0], pointer.shape[1] - 1
    behind = np.empty((types, rows), np.int64)
    for t in range(types):
        for j in range(rows - 1, -1, -1):
            behind[t, j] = j + 1
            if j + 1 == rows:
                continue
            own, next_row = pointer[t, j], pointer[t, j + 1]
            many = next_row - own
            if pointer[t, j + 2] - next_row != many:
                continue
            is_alike = True
            for r in range(many):
                if (
                    runs[own + r, 0] != runs[next_row + r, 0]
                    or runs[own + r, 1] != runs[next_row + r, 1]
                ):
                    is_alike = False
                    break
            if is_alike:
                behind[t, j] = behind[t, j + 1]
    return behind


@njit(cache=True, nogil=True)
def all_ends(pointer, runs, length, behind, active, remaining, x, stop, kerf, ends, deepest):
    """Fill ends[t, 0:deepest[t], row] for all types and rows from x; BIG where no copy ends.

    ``behind`` as ``bands_of`` gives it. Groups of types (numbers from the types' on) are left to
    ``mixed.py``.
    """
    types, rows = pointer.shape[0], pointer.shape[1] - 1
    for t in active:
        if t >= types:
            continue
        most = min(remaining[t], MOST_IN_A_STRIP)
        deep = 0
        j = 0
        while j < rows:
            after = behind[t, j]
            n = strip_ends(pointer, runs, length, t, j, x, most, stop, kerf, ends[t])
            for i in range(n):
                ends[t, i, j + 1 : after] = ends[t, i, j]
            for i in range(n, deep):
                ends[t, i, j:after] = BIG
            if n > deep:
                for i in range(deep, n):
                    ends[t, i, :j] = BIG
                deep = n
            j = after
        deepest[t] = deep


@njit(cache=True, nogil=True, fastmath=True)
def stack_value(
    ends, deepest, nearest, within, price, levels, pitch, active, b, rows, block, worth, stack
):  # fmt: skip
    """Return the value of the best stack of strips that end at b or before (copies not limited).

    nearest (T + groups, n): the nearest of all ends in ``ends``; within (T + groups, 2): the first
    row that has an end, and the one behind the last; levels (groups, n, rows): what each level of a
    mixed strip is worth.
    """
    types = len(price)
    for t in active:
        if deepest[t] == 0 or nearest[t, 0] > b:
            continue
        low, high = within[t]
        row_worth = worth[t, low:high]
        row_worth[:] = np.float32(0)
        if t >= types:
            for n in range(deepest[t]):
                if nearest[t, n] > b:
                    break
                row_ends, row_levels = ends[t, n, low:high], levels[t - types, n, low:high]
                for j in range(high - low):
                    if row_ends[j] <= b:
                        row_worth[j] = row_levels[j]
            continue
        p = price[t]
        for n in range(deepest[t]):
            if nearest[t, n] > b:
                break
            row_ends = ends[t, n, low:high]
            for j in range(high - low):
                row_worth[j] += p if row_ends[j] <= b else np.float32(0)
    stack[:] = np.float32(0)
    low = 0
    while low < rows:
        high = min(low + block, rows)
        for j in range(max(low, 1), high):
            if stack[j - 1] > stack[j]:
                stack[j] = stack[j - 1]
        for t in active:
            if deepest[t] > 0 and nearest[t, 0] <= b:
                row_worth = worth[t]
                w = pitch[t]
                for j in range(max(low, within[t, 0]), min(high, within[t, 1])):
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
def best_stack(
    ends, deepest, price, levels, kinds, many, pitch, active, left, b, rows, stack, chosen, copies,
    strips,
):  # fmt: skip
    """Fill strips with (t, row, copies) of the best stack within the copies left.

    A chain across carries what it has used; the value of a state is exact, the choice greedy. Of a
    mixed strip (t from the types' number on) the third number is its level, counted from 1; levels,
    kinds, many as in ``mixed.py``. Returns (number of strips, value, largest end).
    """
    types = len(price)
    stack[:] = 0
    chosen[:] = -1
    top = len(stack) - 1
    used = np.zeros(types, np.int64)
    own = np.zeros(types, np.int64)
    for j in range(top + 1):
        if j > 0 and stack[j - 1] >= stack[j]:
            stack[j] = stack[j - 1]
            chosen[j] = -1
        if j >= rows:
            continue
        is_counted = False
        for t in active:
            n = 0
            while n < deepest[t] and ends[t, n, j] <= b:
                n += 1
            if n == 0:
                continue
            most = n * price[t] if t < types else levels[t - types, n - 1, j]
            if stack[j] + most <= stack[j + pitch[t]]:
                continue
            if not is_counted:
                _count_used(types, kinds, many, pitch, chosen, copies, j, used)
                is_counted = True
            if t < types:
                n = min(n, left[t] - used[t])
                most = n * price[t]
            else:
                g = t - types
                while n > 0 and not _has_left(kinds[g, n - 1, j], many[g, n - 1, j], left, used,
                                              own):  # fmt: skip
                    n -= 1
                most = levels[g, n - 1, j] if n > 0 else 0.0
            if n > 0 and stack[j] + most > stack[j + pitch[t]]:
                stack[j + pitch[t]] = stack[j] + most
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
def _count_used(types, kinds, many, pitch, chosen, copies, j, used):
    """Count the copies of each type on the chain across that ends at row j."""
    used[:] = 0
    i = j
    while i > 0:
        t = chosen[i]
        if t < 0:
            i -= 1
            continue
        n = copies[i]
        i -= pitch[t]
        if t < types:
            used[t] += n
        else:
            for c in range(many[t - types, n - 1, i]):
                used[kinds[t - types, n - 1, i, c]] += 1


@njit(cache=True, nogil=True)
def _has_left(kinds, many, left, used, own):
    """Whether enough copies are left for what lies in a mixed strip; ``own`` is scratch."""
    for c in range(many):
        own[kinds[c]] = 0
    for c in range(many):
        t = kinds[c]
        own[t] += 1
        if used[t] + own[t] > left[t]:
            return False
    return True
