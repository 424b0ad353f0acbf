"""The numba loops of a mixed strip: copies of several types of one width along one strip.

Rows and positions as in ``ground.py``. Types of the same width form a group; what may lie in a
strip of the group is a list of levels, each ending further along and worth more than the last. A
knapsack along each strip, its labels held against each other (P. C. Gilmore and R. E. Gomory,
"Multistage cutting stock problems of two and more dimensions", Operations Research 13 (1965)).
"""

# numba infers the types; the callers in kernels/board state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

BIG = 2**30
# Levels of a strip, and copies in one: more are left out, the least worth first.
MOST_LEVELS = 24
MOST_COPIES = 16


@njit(cache=True, nogil=True)
def next_end(pointer, runs, length, t, row, at):
    """Return where a copy of t ends that begins at ``at`` or as soon after as the ground lets it.

    BIG where there is no room.
    """
    for r in range(pointer[t, row], pointer[t, row + 1]):
        start = max(at, runs[r, 0])
        if start + length[t] <= runs[r, 1]:
            return start + length[t]
    return BIG


@njit(cache=True, nogil=True)
def _levels_of_row(
    pointer, runs, length, members, price, remaining, row, x, stop, kerf, ends, worth, kinds, many
):
    """Fill ends, worth (LEVELS,), kinds (LEVELS, COPIES) and many (copies of each); return n.

    ``kinds`` names the types in order along the strip.
    """
    n = 1
    ends[0], worth[0], many[0] = x - kerf, np.float32(0), 0
    i = 0
    while i < n:
        for t in members:
            if many[i] == MOST_COPIES:
                break
            used = 0
            for c in range(many[i]):
                if kinds[i, c] == t:
                    used += 1
            if used >= remaining[t]:
                continue
            end = next_end(pointer, runs, length, t, row, ends[i] + kerf)
            if end > stop:
                continue
            total = worth[i] + price[t]
            # Behind all labels that end no later; one of them worth as much makes this one idle.
            at = i + 1
            while at < n and ends[at] <= end:
                at += 1
            if worth[at - 1] >= total or (at > MOST_LEVELS):
                continue
            low = at
            if ends[at - 1] == end:
                low = at - 1
            high = at
            while high < n and worth[high] <= total:
                high += 1
            # Labels low..high-1 are no better than the new one; it takes their place.
            rest = min(n - high, MOST_LEVELS - low)
            if low + 1 <= high:
                for k in range(rest):
                    ends[low + 1 + k], worth[low + 1 + k] = ends[high + k], worth[high + k]
                    many[low + 1 + k] = many[high + k]
                    kinds[low + 1 + k] = kinds[high + k]
            else:
                for k in range(rest - 1, -1, -1):
                    ends[low + 1 + k], worth[low + 1 + k] = ends[high + k], worth[high + k]
                    many[low + 1 + k] = many[high + k]
                    kinds[low + 1 + k] = kinds[high + k]
            ends[low], worth[low], many[low] = end, total, many[i] + 1
            kinds[low, : many[i]] = kinds[i, : many[i]]
            kinds[low, many[i]] = t
            n = low + 1 + rest
        i += 1
    return n


@njit(cache=True, nogil=True)
def all_levels(
    pointer, runs, length, behind, group_ptr, group, active, types, price, remaining, x, stop, kerf,
    ends, deepest, worth, kinds, many,
):  # fmt: skip
    """Fill the levels of the strips of all groups, from x on; ``behind`` as ``strips.bands_of``.

    Group g holds types group[group_ptr[g]:group_ptr[g + 1]] and has the number types + g in ends
    (types + groups, n, rows), deepest (types + groups,) and ``active``; worth (groups, n, rows),
    kinds (groups, n, rows, COPIES), many (groups, n, rows). BIG where a level is none.
    """
    rows = pointer.shape[1] - 1
    end = np.empty(MOST_LEVELS + 2, np.int64)
    value = np.empty(MOST_LEVELS + 2, np.float32)
    kind = np.empty((MOST_LEVELS + 2, MOST_COPIES), np.int16)
    count = np.empty(MOST_LEVELS + 2, np.int64)
    for a in active:
        g = a - types
        if g < 0:
            continue
        members = group[group_ptr[g] : group_ptr[g + 1]]
        deep = 0
        for j in range(rows):
            is_alike = j > 0
            for t in members:
                is_alike = is_alike and behind[t, j - 1] > j
            if is_alike:
                for i in range(deep):
                    ends[a, i, j], worth[g, i, j] = ends[a, i, j - 1], worth[g, i, j - 1]
                    kinds[g, i, j], many[g, i, j] = kinds[g, i, j - 1], many[g, i, j - 1]
                continue
            n = (
                _levels_of_row(
                    pointer, runs, length, members, price, remaining, j, x, stop, kerf,
                    end, value, kind, count,
                ) - 1
            )  # fmt: skip
            for i in range(n):
                ends[a, i, j], worth[g, i, j] = end[i + 1], value[i + 1]
                kinds[g, i, j], many[g, i, j] = kind[i + 1], count[i + 1]
            for i in range(n, deep):
                ends[a, i, j] = BIG
            if n > deep:
                for i in range(deep, n):
                    for k in range(j):
                        ends[a, i, k] = BIG
                deep = n
        deepest[a] = deep


@njit(cache=True, nogil=True)
def groups_of(width, fills, price, left, pointer):
    """Return pointers (G + 1,) and types of all groups of two or more that share a width.

    Types that do not let their strip be filled stand alone.
    """
    types, rows = pointer.shape[0], pointer.shape[1] - 1
    group = np.empty(types, np.int64)
    group_ptr = np.zeros(types + 1, np.int64)
    is_in = np.zeros(types, np.bool_)
    groups, n = 0, 0
    for t in range(types):
        first = n
        for u in range(t, types):
            may_lie = price[u] > 0 and left[u] > 0 and pointer[u, rows] > pointer[u, 0]
            if fills[u] and not is_in[u] and may_lie and width[u] == width[t]:
                is_in[u] = True
                group[n] = u
                n += 1
        if n - first > 1:
            groups += 1
            group_ptr[groups] = n
        else:
            n = first
    return group_ptr[: groups + 1].copy(), group[:n].copy()
