"""The numba loops that list all a board may hold which is worth at least so much.

What a row of sections holds is its key: copies of each part in a field of bits (`KeyFields`).
Cells, rows, strips and their entries are those of ``sections``.

Keys are found section by section from left to right, in a section strip by strip from row 0 on,
along a strip part by part. What comes later needs only to know where the room left begins, so of
each key the first cell (row, end) counts; one that no completion brings to ``least`` is dropped.
(Listing all that may be part of a better answer, instead of pricing the best alone: R. Baldacci,
N. Christofides and A. Mingozzi, "An exact algorithm for the vehicle routing problem based on the
set partitioning formulation with additional cuts", Mathematical Programming 115 (2008).)

numba's cache looks at this file's own date: after a change in ``found_keys.py`` touch this one.
"""

# numba infers the types; the callers in section_grid state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from scanner.placement.kernels.found_keys import (
    NO_BETTER,
    NO_ROOM,
    empty_table,
    note,
    nothing_found,
    reach,
    slot,
)

# Lines of strips kept of all rows; more are too many.
_MOST_STRIPS = 400_000
_MOST_OF_A_STRIP = 4000
# The tables come in single precision: what is worth this share less may be enough.
_LESS = 1e-5
_HAIR = 1e-9


class KeyFields(NamedTuple):
    """Copies of all parts in one whole number, a field of bits for each.

    Attributes
    ----------
    unit
        A copy of what each entry of the strips lays, (E,) int64.
    pad, guard
        Two keys hold more than is wanted of some part together where one of them and ``pad``, the
        other added, carry out of a bit of ``guard``, the highest of each field.
    """

    unit: NDArray[np.int64]
    pad: int
    guard: int


class _Held(NamedTuple):
    """What the strips that begin in one cell hold.

    Attributes
    ----------
    lines
        Lines of group c in row j: lines[c, j, 0]:lines[c, j, 1], (C, rows, 2) int64.
    alike
        Whether a row holds what the row before does, (rows,).
    key, worth, end, before
        Of each line its key, what it is worth, the first cell it can end by, and where the same key
        ends in the row before.
    tight
        Whether a strip ends at a cell, (cells + 1,).
    """

    lines: NDArray[np.int64]
    alike: NDArray[np.bool_]
    key: NDArray[np.int64]
    worth: NDArray[np.float64]
    end: NDArray[np.int64]
    before: NDArray[np.int64]
    tight: NDArray[np.bool_]


class _Most(NamedTuple):
    """The most that strips are worth which end by one cell.

    Attributes
    ----------
    best, ahead
        A strip of group c in row j, (C, rows); all from row j on, (rows + tallest strip + 1,).
    """

    best: NDArray[np.float64]
    ahead: NDArray[np.float64]


@njit(cache=True, nogil=True)
def _over(key, more, fields):
    """Whether two keys, neither in excess itself, hold more than is wanted together."""
    padded = key + fields.pad
    return ((padded & more) | ((padded ^ more) & ~(padded + more))) & fields.guard != 0


@njit(cache=True, nogil=True)
def _alike(mask, j, a, last):
    """Whether row j is clear for the same things as the row before, from cell a to the last."""
    for p in range(mask.shape[0]):
        for s in range(a, min(last, mask.shape[1] - 1) + 1):
            if mask[p, s, j] != mask[p, s, j - 1]:
                return False
    return True


@njit(cache=True, nogil=True)
def _strip(strips, fields, held, c, j, a, last, n):
    """Append each key that a strip of group c, from cell a to the last, holds in row j.

    Returns how many lines there are then, -1 for too many.
    """
    mask, ptr, long, plane, bit, value, _ = strips
    key, worth, end = held.key, held.worth, held.end
    cells, begin = mask.shape[1], n
    low, high = begin - 1, begin
    while low < high:
        # Keys of one copy more: their ends are final before the next round looks at them.
        for q in range(low, high):
            is_none = q < begin
            at = a if is_none else end[q]
            for e in range(ptr[c], ptr[c + 1]):
                k = fields.unit[e] if is_none else key[q] + fields.unit[e]
                if not is_none and _over(key[q], fields.unit[e], fields):
                    continue
                one = np.uint32(1) << np.uint32(bit[e])
                s, stop = at, min(last - long[e], cells - 1)
                while s <= stop and (mask[plane[e], s, j] & one) == 0:
                    s += 1
                if s > stop:
                    continue
                known = high
                while known < n and key[known] != k:
                    known += 1
                if known < n:
                    end[known] = min(end[known], s + long[e])
                    continue
                if n >= len(key) or n - begin >= _MOST_OF_A_STRIP:
                    return -1
                key[n], end[n] = k, s + long[e]
                worth[n] = value[e] if is_none else worth[q] + value[e]
                n += 1
        low, high = high, n
    return n


@njit(cache=True, nogil=True)
def _hold(strips, fields, held, a, last):
    """Fill in what the strips hold that begin at cell a and end by the last.

    Returns False where there are too many.
    """
    n, rows, far = np.int64(0), strips.mask.shape[2], np.int64(1) << 40
    lines, alike = held.lines, held.alike
    held.tight[:] = False
    for j in range(rows):
        alike[j] = j > 0 and _alike(strips.mask, j, a, last)
        for c in range(len(strips.pitch)):
            if alike[j]:
                lines[c, j] = lines[c, j - 1]
                continue
            begin = n
            n = _strip(strips, fields, held, c, j, a, last, n)
            if n < 0:
                return False
            lines[c, j, 0], lines[c, j, 1] = begin, n
            for z in range(begin, n):
                held.tight[held.end[z]] = True
                held.before[z] = far
                if j > 0:
                    for y in range(lines[c, j - 1, 0], lines[c, j - 1, 1]):
                        if held.key[y] == held.key[z]:
                            held.before[z] = held.end[y]
    return True


@njit(cache=True, nogil=True)
def _look_ahead(held, pitch, b, most):
    """Fill in the most that strips ending by cell b are worth."""
    best, ahead = most.best, most.ahead
    groups, rows = best.shape
    for j in range(rows):
        for c in range(groups):
            if held.alike[j]:
                best[c, j] = best[c, j - 1]
                continue
            best[c, j] = 0.0
            for z in range(held.lines[c, j, 0], held.lines[c, j, 1]):
                if held.end[z] <= b:
                    best[c, j] = max(best[c, j], held.worth[z])
    for j in range(rows - 1, -1, -1):
        ahead[j] = ahead[j + 1]
        for c in range(groups):
            ahead[j] = max(ahead[j], best[c, j] + ahead[j + pitch[c]] if best[c, j] > 0 else 0.0)


@njit(cache=True, nogil=True)
def _section(held, fields, pitch, b, most, need, now, found):
    """List in ``found`` the keys of a section that ends at cell b, worth ``need``.

    Keys that other strips would have to bring to ``need`` are among them. Returns whether there
    was room for all, and the steps taken.
    """
    rows, groups = most.best.shape[1], most.best.shape[0]
    found.head[:] = -1
    found.many[:] = 0
    # The first key is nothing at all.
    note(found, now, np.int64(0), 0.0, np.int64(0))
    ready, steps = np.int64(0), 0
    for j in range(rows):
        old = ready
        ready = reach(found, j, ready)
        if held.alike[j] and ready == old:
            continue
        for c in range(groups):
            if most.best[c, j] <= 0:
                continue
            at = j + pitch[c]
            for z in range(held.lines[c, j, 0], held.lines[c, j, 1]):
                if held.end[z] > b:
                    continue
                # A strip that fits a row before, too, was laid there on all that was ready then.
                is_new = not held.alike[j] and held.before[z] > b
                for q in range(0 if is_new else old, ready):
                    steps += 1
                    one = found.order[q]
                    total = found.gain[one] + held.worth[z]
                    if total + most.ahead[at] < need:
                        continue
                    if _over(found.key[one], held.key[z], fields):
                        continue
                    if note(found, now, found.key[one] + held.key[z], total, at) == NO_ROOM:
                        return False, steps
    return True, steps


@njit(cache=True, nogil=True)
def _last_cell(a, richest, sections, enough):
    """Return the last cell by which a section from cell a may end and be of use, -1 for none."""
    bound = sections.worth[sections.line_of[a]]
    last = np.int64(-1)
    for b in range(a + 1, len(sections.ahead)):
        if richest + bound[b] + sections.ahead[b] >= enough:
            last = np.int64(b)
    return last


@njit(cache=True, nogil=True)
def _add_section(laid, ways, here, inner, fields, seen, a, b, need, enough, room):
    """Lay each new key of a section from cell a to b behind the keys that leave off at a.

    here: those, the richest first; seen: what was laid from a on before; need: what the section is
    worth at least, ``enough`` less what lies ahead with what it is laid behind; room: so many more
    new keys may there be. Returns how many there were, -1 for too many, and the steps taken.
    """
    new, steps = 0, 0
    # Key 0 is nothing at all.
    for f in range(1, inner.many[0]):
        key, gain = inner.key[f], inner.gain[f]
        i = slot(seen, a + 1, key)
        if gain < need or seen.turn[i] == a + 1:
            continue
        new += 1
        if new > room:
            return -1, steps
        seen.key[i], seen.turn[i] = key, a + 1
        for before in here:
            total = laid.gain[before] + gain
            if total < enough:
                break
            steps += 1
            if _over(laid.key[before], key, fields):
                continue
            number = note(laid, np.int64(1), laid.key[before] + key, total, b)
            if number == NO_ROOM:
                return -1, steps
            if number != NO_BETTER:
                ways[number, 0], ways[number, 1], ways[number, 2] = before, a, b
    return new, steps


@njit(cache=True, nogil=True)
def near_best(strips, fields, sections, least, most, work):
    """Return all keys worth at least ``least``, each once, and whether these are all.

    Between the two: all keys met on the way, and how each came to be, (n, 4): the number of the
    key before its last section (-1 for none), where that section begins and ends, cells, and
    whether the key is among those worth ``least``.

    strips: `Strips`, the values in double precision; fields: `KeyFields`; sections: the
    `SectionTables` of these strips for ``least`` or less; most: so many keys at most on the way;
    work: so many steps.
    """
    rows, groups, top = strips.mask.shape[2], len(strips.pitch), len(sections.ahead) - 1
    tallest = 1
    for c in range(groups):
        tallest = max(tallest, strips.pitch[c])
    size = 64
    while size < 4 * most:
        size *= 2
    # numba has a type for each bare number, and compiles what one is handed to once more for it.
    first = np.int64(1)
    laid = nothing_found(most, top + 1, size)
    ways = np.full((most, 4), -1, np.int64)
    note(laid, first, np.int64(0), 0.0, np.int64(0))
    # What the strips that begin in a cell hold, the keys of a section of them, and those of all
    # sections that begin in this cell and end before.
    held = _Held(
        np.zeros((groups, rows, 2), np.int64), np.zeros(rows, np.bool_),
        np.zeros(_MOST_STRIPS, np.int64), np.zeros(_MOST_STRIPS),
        np.zeros(_MOST_STRIPS, np.int64), np.zeros(_MOST_STRIPS, np.int64),
        np.zeros(top + 1, np.bool_),
    )  # fmt: skip
    inner = nothing_found(most, rows + tallest + 1, size)
    seen = empty_table(size)
    ahead = _Most(np.zeros((groups, rows)), np.zeros(rows + tallest + 1))
    now, steps, enough = 0, 0, least - _LESS * abs(least)
    is_all = True
    for a in range(top):
        many = reach(laid, a, np.int64(0))
        if many == 0 or sections.line_of[a] < 0:
            continue
        here = laid.order[:many].copy()
        here = here[np.argsort(-laid.gain[here])]
        richest, bound = laid.gain[here[0]], sections.worth[sections.line_of[a]]
        last = _last_cell(a, richest, sections, enough)
        if last < 0:
            continue
        is_all = _hold(strips, fields, held, a, last)
        room = most
        for b in range(a + 1, last + 1):
            need = enough - richest - sections.ahead[b]
            if not is_all or not held.tight[b] or bound[b] < need:
                continue
            _look_ahead(held, strips.pitch, b, ahead)
            if ahead.ahead[0] < need:
                continue
            now += 1
            is_all, taken = _section(held, fields, strips.pitch, b, ahead, need, now, inner)
            steps += taken + rows * groups
            if not is_all or steps > work:
                is_all = False
                break
            new, taken = _add_section(
                laid, ways, here, inner, fields, seen, a, b, need, enough - sections.ahead[b], room
            )
            steps += taken
            room -= new
            is_all = new >= 0
        if not is_all:
            return laid.key[:0], laid.key[:0], ways[:0], False
    n = laid.many[0]
    for k in range(n):
        ways[k, 3] = laid.gain[k] >= least - _HAIR * abs(least)
    return laid.key[:n][ways[:n, 3] == 1], laid.key[:n], ways[:n], True
