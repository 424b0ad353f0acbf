"""The numba loops of the class bound: what sections of a board are worth at most, and the best row.

A section is what two crosscuts leave; strips are ripped along it and parts crosscut from a strip.
Positions are cells along and rows across; everything was rounded down to them before, so that each
real layout is one of these, too. Arrays in, arrays out, whole numbers, no wood words.

P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more dimensions",
Operations Research 13 (1965): a knapsack along each strip, one across each section, one of sections
along the board. It is solved on coarse cells first; a pair of cells which could not be part of
anything worth ``least`` there is not looked at on finer ones.
"""

# numba infers the types; the callers in section_grid state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

NOTHING = np.float32(-1e30)
_LINES_AT_FIRST = 64


class Strips(NamedTuple):
    """The strips that one board may be ripped into, in groups of one height, on cells and rows.

    Attributes
    ----------
    mask
        What may begin where: a bit of mask[plane, cell, row], (planes, cells, rows) uint32.
    ptr
        Group c holds entries ptr[c]:ptr[c + 1]; an entry is a part that lies in strips of the
        group, (C + 1,) int64.
    long
        Cells from an entry's part to the next one in its strip, (E,) int64.
    plane, bit
        Which bit of ``mask`` is an entry's, (E,) int64.
    value
        What a copy is worth, (E,): single precision where the best is sought, double where all
        that is near it is listed.
    pitch
        Rows from a strip of each group to the next one across, (C,) int64.
    """

    mask: NDArray[np.uint32]
    ptr: NDArray[np.int64]
    long: NDArray[np.int64]
    plane: NDArray[np.int64]
    bit: NDArray[np.int64]
    value: NDArray[np.float32] | NDArray[np.float64]
    pitch: NDArray[np.int64]


class SectionTables(NamedTuple):
    """What sections of a board are worth at most, by the cells at which they begin and end.

    Attributes
    ----------
    line_of
        Which line of ``worth`` bounds the sections that begin in a cell, (cells,) int64; -1 where
        none can be part of anything of interest.
    worth
        The most that a section is worth, by the cell it ends at, (n, cells) float32.
    ahead
        The most that all sections from a cell on are worth, (cells,) float64.
    """

    line_of: NDArray[np.int64]
    worth: NDArray[np.float32]
    ahead: NDArray[np.float64]


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
def _expand(strips, a, last, most):
    """Fill most[c, b - a, row] with the most a strip of group c holds in cells a to b."""
    mask, ptr, long, plane, bit, value, _ = strips
    cells, rows = mask.shape[1], mask.shape[2]
    for c in range(len(ptr) - 1):
        most[c, 0, :] = np.float32(0)
        for b in range(a + 1, last + 1):
            here, before = most[c, b - a], most[c, b - a - 1]
            for j in range(rows):
                here[j] = before[j]
            for e in range(ptr[c], ptr[c + 1]):
                s = b - long[e]
                if s < a or s >= cells:
                    continue
                source, may, v = most[c, s - a], mask[plane[e], s], value[e]
                one = np.uint32(1) << np.uint32(bit[e])
                for j in range(rows):
                    gain = source[j] + (v if (may[j] & one) != 0 else np.float32(0))
                    here[j] = max(here[j], gain)


@njit(cache=True, nogil=True, fastmath=True)
def _stacked(most, b, pitch, block, stack):
    """Return the most a section holds whose strips end b cells from its begin.

    most: as ``_expand`` fills it; block: no strip is less high, rows; stack: scratch, as many rows
    as the board and its tallest strip have. It is left holding the most of each row and before.
    """
    groups, rows = most.shape[0], most.shape[2]
    stack[:] = np.float32(0)
    low = 0
    while low < rows:
        high = min(low + block, rows)
        for j in range(max(low, 1), high):
            if stack[j - 1] > stack[j]:
                stack[j] = stack[j - 1]
        for c in range(groups):
            w, worth = pitch[c], most[c, b]
            for j in range(low, high):
                stack[j + w] = max(stack[j + w], stack[j] + worth[j])
        low = high
    best = np.float32(0)
    for j in range(len(stack)):
        best = max(best, stack[j])
    return best


@njit(cache=True, nogil=True)
def _least_and_tallest(pitch, rows):
    """Return how many rows the lowest strip takes, and the tallest, both at least 1."""
    block, tallest = rows, 1
    for w in pitch:
        block = min(block, w)
        tallest = max(tallest, w)
    return max(block, 1), tallest


@njit(cache=True, nogil=True)
def _candidates(a, reached, top, ratio, parent, least, out):
    """List in ``out`` the cells at which a section from cell a on may end; return how many.

    ``parent`` as in ``best_sections``; reached: what lies before cell a is worth.
    """
    many = 0
    if ratio == 0:
        for b in range(a + 1, top + 1):
            out[many] = b
            many += 1
    elif parent.line_of[a // ratio] >= 0:
        worth = parent.worth[parent.line_of[a // ratio]]
        for b in range(a + 1, top + 1):
            if reached + worth[b // ratio] + parent.ahead[b // ratio] >= least:
                out[many] = b
                many += 1
    return many


@njit(cache=True, nogil=True)
def best_sections(strips, top, ratio, parent, least):
    """Return the best row of sections, and tables that do the same for finer cells.

    top: last cell at which a section may end; ratio: cells here to one of the coarser tables
    ``parent``, 0 where there are none; least: what is worth less in all is of no interest.

    Returns (worth, begin (top + 1,), tables): the most in all (or less than ``least``); where the
    best section ending at each cell begins, -1 for none; what was found of all sections.
    """
    rows, pitch = strips.mask.shape[2], strips.pitch
    groups = len(pitch)
    block, tallest = _least_and_tallest(pitch, rows)
    stack = np.zeros(rows + tallest + 1, np.float32)
    most = np.zeros((groups, top + 2, rows), np.float32)
    reached = np.zeros(top + 1, np.float64)
    begin = np.full(top + 1, -1, np.int64)
    line_of = np.full(top + 1, -1, np.int64)
    kept = np.full((_LINES_AT_FIRST, top + 1), NOTHING, np.float32)
    n = 0
    candidate = np.zeros(top + 1, np.int64)
    todo = np.zeros((top + 8, 2), np.int64)
    current = -1
    for a in range(top + 1):
        if a > 0 and reached[a] <= reached[a - 1]:
            # What begins a cell earlier is worth no less.
            reached[a] = reached[a - 1]
            line_of[a] = current
            continue
        current = -1
        base = reached[a]
        many = _candidates(a, base, top, ratio, parent, least, candidate)
        if many == 0:
            continue
        if n == len(kept):
            more = np.full((2 * n, top + 1), NOTHING, np.float32)
            more[:n] = kept
            kept = more
        line = kept[n]
        current = n
        line_of[a] = n
        n += 1
        last = candidate[many - 1]
        _expand(strips, a, last, most)
        line[last] = _stacked(most, last - a, pitch, block, stack)
        first = candidate[0]
        line[first] = _stacked(most, first - a, pitch, block, stack)
        # Halving: what lies between two ends worth the same is worth that, too.
        todo[0, 0], todo[0, 1] = 0, many - 1
        depth = 1
        while depth > 0:
            depth -= 1
            lo, hi = todo[depth, 0], todo[depth, 1]
            if hi - lo < 2:
                continue
            worth = line[candidate[hi]]
            after = candidate[lo] + 1
            if ratio > 0 and base + worth + parent.ahead[after // ratio] < least:
                continue
            if line[candidate[lo]] == worth:
                for i in range(lo + 1, hi):
                    line[candidate[i]] = worth
                continue
            half = (lo + hi) // 2
            b = candidate[half]
            line[b] = _stacked(most, b - a, pitch, block, stack)
            todo[depth, 0], todo[depth, 1] = lo, half
            todo[depth + 1, 0], todo[depth + 1, 1] = half, hi
            depth += 2
        for i in range(many):
            b = candidate[i]
            if line[b] > 0 and base + line[b] > reached[b]:
                reached[b] = base + line[b]
                begin[b] = a
    worth = kept[:n].copy()
    return reached[top], begin, SectionTables(line_of, worth, _ahead(line_of, worth))


@njit(cache=True, nogil=True)
def _ahead(line_of, worth):
    """Return the most that all sections from each cell on are worth, as ``SectionTables`` says."""
    top = len(line_of) - 1
    ahead = np.zeros(top + 1, np.float64)
    for a in range(top - 1, -1, -1):
        ahead[a] = ahead[a + 1]
        # A line is another cell's, too: that cell bounds this one.
        if line_of[a] >= 0:
            line = worth[line_of[a]]
            for b in range(a + 1, top + 1):
                ahead[a] = max(ahead[a], line[b] + ahead[b])
    return ahead


@njit(cache=True, nogil=True)
def counts_between(strips, item, begin, counts):
    """Add to counts (items,) what the best row of sections holds; ``item``: of each entry, (E,).

    ``begin`` as ``best_sections`` returns it for these strips.
    """
    rows, pitch = strips.mask.shape[2], strips.pitch
    groups = len(pitch)
    block, tallest = _least_and_tallest(pitch, rows)
    stack = np.zeros(rows + tallest + 1, np.float32)
    b = len(begin) - 1
    while b > 0:
        if begin[b] < 0:
            b -= 1
            continue
        a = begin[b]
        most = np.zeros((groups, b - a + 1, rows), np.float32)
        _expand(strips, a, b, most)
        _stacked(most, b - a, pitch, block, stack)
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
                if j < 0 or j >= rows or most[c, b - a, j] <= 0:
                    continue
                if abs(stack[j] + most[c, b - a, j] - stack[at]) <= 1e-6 * stack[at]:
                    _along(strips, item, most, c, a, b, j, counts)
                    at = j
                    found = True
                    break
            if not found:
                at -= 1
        b = a


@njit(cache=True, nogil=True)
def _along(strips, item, most, c, a, b, j, counts):
    """Add to counts what lies along the strip of group c in row j, from cell a to b."""
    mask, ptr, long, plane, bit, value, _ = strips
    at = b - a
    while at > 0 and most[c, at, j] > 0:
        if most[c, at - 1, j] == most[c, at, j]:
            at -= 1
            continue
        found = False
        for e in range(ptr[c], ptr[c + 1]):
            s = at - long[e]
            if s < 0 or a + s >= mask.shape[1]:
                continue
            one = np.uint32(1) << np.uint32(bit[e])
            if (mask[plane[e], a + s, j] & one) == 0:
                continue
            if abs(most[c, s, j] + value[e] - most[c, at, j]) <= 1e-6 * most[c, at, j]:
                counts[item[e]] += 1
                at = s
                found = True
                break
        if not found:
            at -= 1
