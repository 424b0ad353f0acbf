"""The numba loops of the class bound: what sections of a board are worth at most, and the best row.

A section is what two crosscuts leave; strips are ripped along it and parts crosscut from a strip.
Positions are cells along and rows across; everything was rounded down to them before, so that each
real layout is one of these, too. Arrays in, arrays out, whole numbers, no wood words.

P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more dimensions",
Operations Research 13 (1965): a knapsack along each strip, one across each section, one of sections
along the board. It is solved on coarse cells first; a pair of cells which could not be part of
anything worth ``least`` there is not looked at on finer ones.

What may begin where is one bit of ``mask`` (planes, cells, rows) uint32. Strips come in groups of
one height: group c takes ``pitch[c]`` rows and holds entries e of entry_ptr[c]:entry_ptr[c + 1],
each ``long[e]`` cells from one to the next, worth ``value[e]``, in bit ``bit[e]`` of
``plane[e]``.
"""

# numba infers the types; the callers in section_grid state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

NOTHING = np.float32(-1e30)


@njit(cache=True, nogil=True)
def fill_mask(pointer, starts, thin, cell, x0, bit, out):
    """Set a bit of out (cells, rows) where a thing may begin.

    starts (n, 2): first and last place of each interval, tenths, those of row j at
    pointer[j]:pointer[j + 1]; ``thin`` of their rows are one row of out.
    """
    cells = out.shape[0]
    one = np.uint32(1) << np.uint32(bit)
    for row in range(len(pointer) - 1):
        for r in range(pointer[row], pointer[row + 1]):
            first = max(0, (starts[r, 0] - x0) // cell)
            last = min(cells - 1, (starts[r, 1] - x0) // cell)
            for c in range(first, last + 1):
                out[c, row // thin] |= one


@njit(cache=True, nogil=True)
def drifted(mask, up):
    """Return the mask of strips in which a thing may begin at any of rows 0 to ``up``."""
    planes, cells, rows = mask.shape
    out = mask.copy()
    wide = 1
    while wide < up + 1:
        step = min(wide, up + 1 - wide)
        for p in range(planes):
            for c in range(cells):
                line = out[p, c]
                for j in range(rows - step):
                    line[j] |= line[j + step]
        wide += step
    return out


@njit(cache=True, nogil=True)
def coarser(mask, along, across):
    """Return the mask on cells and rows so many times as large."""
    planes, cells, rows = mask.shape
    out = np.zeros((planes, (cells - 1) // along + 1, (rows - 1) // across + 1), np.uint32)
    for p in range(planes):
        for c in range(cells):
            for j in range(rows):
                out[p, c // along, j // across] |= mask[p, c, j]
    return out


@njit(cache=True, nogil=True, fastmath=True)
def _expand(mask, entry_ptr, long, plane, bit, value, a, last, strip):
    """Fill strip[c, b - a, row] with the most a strip of group c holds in cells a to b."""
    cells, rows = mask.shape[1], mask.shape[2]
    for c in range(len(entry_ptr) - 1):
        strip[c, 0, :] = np.float32(0)
        for b in range(a + 1, last + 1):
            here, before = strip[c, b - a], strip[c, b - a - 1]
            for j in range(rows):
                here[j] = before[j]
            for e in range(entry_ptr[c], entry_ptr[c + 1]):
                s = b - long[e]
                if s < a or s >= cells:
                    continue
                source, may, v = strip[c, s - a], mask[plane[e], s], value[e]
                one = np.uint32(1) << np.uint32(bit[e])
                for j in range(rows):
                    gain = source[j] + (v if (may[j] & one) != 0 else np.float32(0))
                    here[j] = max(here[j], gain)


@njit(cache=True, nogil=True, fastmath=True)
def _stacked(strip, b, pitch, block, stack):
    """Return the most a section holds whose strips end at cell b of ``strip``."""
    groups, rows = strip.shape[0], strip.shape[2]
    stack[:] = np.float32(0)
    low = 0
    while low < rows:
        high = min(low + block, rows)
        for j in range(max(low, 1), high):
            if stack[j - 1] > stack[j]:
                stack[j] = stack[j - 1]
        for c in range(groups):
            w, worth = pitch[c], strip[c, b]
            for j in range(low, high):
                stack[j + w] = max(stack[j + w], stack[j] + worth[j])
        low = high
    best = np.float32(0)
    for j in range(len(stack)):
        best = max(best, stack[j])
    return best


@njit(cache=True, nogil=True)
def best_sections(
    mask, entry_ptr, long, plane, bit, value, pitch, top, ratio, parent_row, parent, parent_ahead,
    least,
):  # fmt: skip
    """Return the best row of sections, and tables that do the same for finer cells.

    top: last cell at which a section may end; ratio: cells here to one of the coarser tables
    parent_row (cells,), parent (n, cells), parent_ahead (cells,), 0 where there are none; least:
    what is worth less in all is of no interest.

    Returns (worth, begin (top + 1,), row (top + 1,), table (n, top + 1), ahead (top + 1,)): the
    most in all (or less than ``least``); where the best section ending at each cell begins, -1 for
    none; which line of ``table`` bounds the sections that begin in a cell, -1 where none can be
    part of ``least``; the most from a cell on.
    """
    rows = mask.shape[2]
    groups = len(entry_ptr) - 1
    block, tallest = rows, 1
    for c in range(groups):
        block = min(block, pitch[c])
        tallest = max(tallest, pitch[c])
    block = max(block, 1)
    stack = np.zeros(rows + tallest + 1, np.float32)
    strip = np.zeros((groups, top + 2, rows), np.float32)
    reached = np.zeros(top + 1, np.float64)
    begin = np.full(top + 1, -1, np.int64)
    row = np.full(top + 1, -1, np.int64)
    kept = np.full((64, top + 1), NOTHING, np.float32)
    n = 0
    candidate = np.zeros(top + 1, np.int64)
    todo = np.zeros((top + 8, 2), np.int64)
    current = -1
    for a in range(top + 1):
        if a > 0 and reached[a] <= reached[a - 1]:
            # What begins a cell earlier is worth no less.
            reached[a] = reached[a - 1]
            row[a] = current
            continue
        current = -1
        base = reached[a]
        many = 0
        if ratio == 0:
            for b in range(a + 1, top + 1):
                candidate[many] = b
                many += 1
        elif parent_row[a // ratio] >= 0:
            worth = parent[parent_row[a // ratio]]
            for b in range(a + 1, top + 1):
                if base + worth[b // ratio] + parent_ahead[b // ratio] >= least:
                    candidate[many] = b
                    many += 1
        if many == 0:
            continue
        if n == len(kept):
            more = np.full((2 * n, top + 1), NOTHING, np.float32)
            more[:n] = kept
            kept = more
        line = kept[n]
        current = n
        row[a] = n
        n += 1
        last = candidate[many - 1]
        _expand(mask, entry_ptr, long, plane, bit, value, a, last, strip)
        line[last] = _stacked(strip, last - a, pitch, block, stack)
        first = candidate[0]
        line[first] = _stacked(strip, first - a, pitch, block, stack)
        todo[0, 0], todo[0, 1] = 0, many - 1
        depth = 1
        while depth > 0:
            depth -= 1
            lo, hi = todo[depth, 0], todo[depth, 1]
            if hi - lo < 2:
                continue
            most = line[candidate[hi]]
            ahead = candidate[lo] + 1
            hopeless = ratio > 0 and base + most + parent_ahead[ahead // ratio] < least
            if hopeless:
                continue
            if line[candidate[lo]] == most:
                for i in range(lo + 1, hi):
                    line[candidate[i]] = most
                continue
            half = (lo + hi) // 2
            b = candidate[half]
            line[b] = _stacked(strip, b - a, pitch, block, stack)
            todo[depth, 0], todo[depth, 1] = lo, half
            todo[depth + 1, 0], todo[depth + 1, 1] = half, hi
            depth += 2
        for i in range(many):
            b = candidate[i]
            if line[b] > 0 and base + line[b] > reached[b]:
                reached[b] = base + line[b]
                begin[b] = a
    ahead = np.zeros(top + 1, np.float64)
    for a in range(top - 1, -1, -1):
        ahead[a] = ahead[a + 1]
        # A line is another cell's, too: that cell bounds this one.
        if row[a] >= 0:
            line = kept[row[a]]
            for b in range(a + 1, top + 1):
                ahead[a] = max(ahead[a], line[b] + ahead[b])
    return reached[top], begin, row, kept[:n].copy(), ahead


@njit(cache=True, nogil=True)
def counts_between(
    mask, entry_ptr, long, plane, bit, value, pitch, item, begin, counts
):  # fmt: skip
    """Add to counts (items,) what the best row of sections holds; ``item``: of each entry."""
    rows = mask.shape[2]
    groups = len(entry_ptr) - 1
    block, tallest = rows, 1
    for c in range(groups):
        block = min(block, pitch[c])
        tallest = max(tallest, pitch[c])
    stack = np.zeros(rows + tallest + 1, np.float32)
    b = len(begin) - 1
    while b > 0:
        if begin[b] < 0:
            b -= 1
            continue
        a = begin[b]
        strip = np.zeros((groups, b - a + 1, rows), np.float32)
        _expand(mask, entry_ptr, long, plane, bit, value, a, b, strip)
        _stacked(strip, b - a, pitch, max(block, 1), stack)
        # Backwards through the stack: which strip ends at each row.
        at = 0
        for j in range(len(stack)):
            if stack[j] > stack[at]:
                at = j
        while at > 0 and stack[at] > 0:
            if stack[at - 1] == stack[at]:
                at -= 1
                continue
            found = False
            for c in range(groups):
                j = at - pitch[c]
                if j < 0 or j >= rows or strip[c, b - a, j] <= 0:
                    continue
                if abs(stack[j] + strip[c, b - a, j] - stack[at]) <= 1e-6 * stack[at]:
                    _along(
                        mask, entry_ptr, long, plane, bit, value, item, strip, c, a, b, j, counts
                    )
                    at = j
                    found = True
                    break
            if not found:
                at -= 1
        b = a


@njit(cache=True, nogil=True)
def _along(mask, entry_ptr, long, plane, bit, value, item, strip, c, a, b, j, counts):
    """Add to counts what lies along one strip."""
    at = b - a
    while at > 0 and strip[c, at, j] > 0:
        if strip[c, at - 1, j] == strip[c, at, j]:
            at -= 1
            continue
        found = False
        for e in range(entry_ptr[c], entry_ptr[c + 1]):
            s = at - long[e]
            if s < 0 or a + s >= mask.shape[1]:
                continue
            one = np.uint32(1) << np.uint32(bit[e])
            if (mask[plane[e], a + s, j] & one) == 0:
                continue
            if abs(strip[c, s, j] + value[e] - strip[c, at, j]) <= 1e-6 * strip[c, at, j]:
                counts[item[e]] += 1
                at = s
                found = True
                break
        if not found:
            at -= 1
