"""The numba loops that tell whether one board holds so many copies of each part, place by place.

A set of copies is a number: of each part so many digits as copies are asked (mixed radix), so that
whatever is within another set has a lower number, and the last number is all. Sections are laid
from left to right: of each set laid so far the first place that it leaves free counts. In a
section strips are stacked from row 0 on: of each set the first row that it leaves free counts,
where all its strips end by one place along the board. No cells: places along are whole tenths.

Strips are numbered, each a set of parts of one width, what holds less before what holds more; one
is a smaller one (or none, -1) and a part behind it: strip z is made by entries
strip_ptr[z]:strip_ptr[z + 1], each ``strip_part`` behind strip ``strip_before``. ``less[k, z]`` is
the set k without strip z, -1 where k does not hold it.

P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more dimensions",
Operations Research 13 (1965).
"""

# numba infers the types; the callers in placement.proof.one_board state them.
# ruff: noqa: ANN001, ANN201
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

NEVER = 2**30


@njit(cache=True, nogil=True)
def joined_rows(pointer, starts, many):
    """Return the intervals of so many rows together as those of one: pointers and intervals."""
    rows = (len(pointer) - 2) // many + 1
    joined, out = np.zeros(rows + 1, np.int64), np.empty_like(starts)
    n = 0
    for row in range(rows):
        first = pointer[row * many]
        behind = pointer[min((row + 1) * many, len(pointer) - 1)]
        own = starts[first:behind]
        begun = n
        for r in np.argsort(own[:, 0]):
            if n > begun and own[r, 0] <= out[n - 1, 1] + 1:
                out[n - 1, 1] = max(out[n - 1, 1], own[r, 1])
            else:
                out[n] = own[r]
                n += 1
        joined[row + 1] = n
    return joined, out[:n].copy()


@njit(cache=True, nogil=True)
def strip_ends(pointer, starts, long, strip_ptr, strip_part, strip_before, a, top, ends):
    """Fill ends[z, j] with where strip z in row j ends at first if it begins at ``a`` or later.

    pointer (T, rows + 1), starts (n, 2): first and last place of each interval; long (T,): from
    one part to the next. NEVER where there is no room before ``top``.
    """
    for z in range(len(ends)):
        for j in range(ends.shape[1]):
            least = NEVER
            for q in range(strip_ptr[z], strip_ptr[z + 1]):
                at = a if strip_before[q] < 0 else ends[strip_before[q], j]
                t = strip_part[q]
                if at + long[t] > top:
                    continue
                for r in range(pointer[t, j], pointer[t, j + 1]):
                    if starts[r, 1] >= at:
                        least = min(least, max(at, starts[r, 0]) + long[t])
                        break
            ends[z, j] = least if least <= top else NEVER


@njit(cache=True, nogil=True)
def stacked(ends, pitch, less, is_in, b, near, rows_of):
    """Fill rows_of[k] with the first row that set k leaves free, its strips ended by ``b``.

    is_in: sets asked for, and all that are left of them without one strip and another; near (Z,
    rows) is filled with the first row from each on in which a strip ends by then.
    """
    many, rows = ends.shape
    for z in range(many):
        first = rows
        for j in range(rows - 1, -1, -1):
            if ends[z, j] <= b:
                first = j
            near[z, j] = first
    rows_of[0] = 0
    for k in range(1, len(is_in)):
        if not is_in[k]:
            continue
        least = NEVER
        for z in range(many):
            before = less[k, z]
            if before >= 0 and rows_of[before] < rows:
                row = near[z, rows_of[before]]
                if row < rows:
                    least = min(least, row + pitch[z])
        rows_of[k] = least


@njit(cache=True, nogil=True)
def first_ends(pointer, starts, long, pitch, strip_ptr, strip_part, strip_before, less, known,
               latest, x0, top, grain, stride, is_any, work):  # fmt: skip
    """Return where each set laid from ``x0`` on ends at first, and each section behind it.

    pitch (Z,): rows from a strip to the next. known[k, s]: where a section of set s behind set k
    ends at the earliest, as far as is known, NEVER where it is not asked. latest[k]: where set k
    must end to leave room for the rest. grain: ends are known to within so much, the earlier ones
    count; stride: the first step away from what is known. is_any: whether any way to lay all is
    enough. work: so many steps at most.

    Returns the ends of sets (K,), of sections (K, K), the set before the last section of each
    (K,), and steps taken, -1 for too many.
    """
    sets, rows, many = len(less), pointer.shape[1] - 1, len(pitch)
    reached, before = np.full(sets, NEVER, np.int64), np.full(sets, -1, np.int64)
    section = np.full((sets, sets), NEVER, np.int64)
    ends, near = np.zeros((many, rows), np.int64), np.zeros((many, rows), np.int64)
    rows_of, is_in = np.zeros(sets, np.int64), np.zeros(sets, np.bool_)
    low, high = np.zeros(sets, np.int64), np.zeros(sets, np.int64)
    step = np.zeros(sets, np.int64)
    reached[0] = x0
    steps = 0
    for k in range(sets - 1):
        a = reached[k]
        if a >= NEVER:
            continue
        asked = 0
        is_in[:] = False
        for s in range(1, sets - k):
            if known[k, s] >= NEVER or known[k, s] > latest[k + s]:
                continue
            asked += 1
            is_in[s] = True
            # It does not end by ``low``; whether it does by ``high`` is asked below.
            low[s], high[s], step[s] = max(known[k, s] - 1, a), latest[k + s] + 1, stride
        if asked == 0:
            continue
        asked_sets = np.flatnonzero(is_in)
        for s in range(sets - 1, 0, -1):
            if is_in[s]:
                for z in range(many):
                    if less[s, z] > 0:
                        is_in[less[s, z]] = True
        strip_ends(pointer, starts, long, strip_ptr, strip_part, strip_before, a, top, ends)
        steps += many * rows
        for s in asked_sets[::-1]:
            # Later ends first: what ends by none of them need not be asked again.
            while high[s] - low[s] > grain:
                if high[s] > latest[k + s]:
                    b = latest[k + s]
                else:
                    b = min(low[s] + step[s], (low[s] + high[s]) // 2)
                stacked(ends, pitch, less, is_in, b, near, rows_of)
                steps += many * rows
                for other in asked_sets:
                    if rows_of[other] < NEVER:
                        high[other] = min(high[other], b)
                    elif b > low[other]:
                        low[other] = b
                        step[other] *= 2
                    if low[other] >= latest[k + other]:
                        high[other] = low[other]
                if steps > work:
                    return reached, section, before, -1
            if low[s] >= latest[k + s]:
                continue
            end = low[s] + 1 if grain > 1 else high[s]
            section[k, s] = end
            if end < reached[k + s]:
                reached[k + s], before[k + s] = end, k
        if is_any and reached[sets - 1] < NEVER:
            break
    return reached, section, before, steps


@njit(cache=True, nogil=True)
def still_known(section, reached):
    """Return the sections (K, K) that may be part of laying all, NEVER for the others."""
    sets = len(reached)
    is_good = np.zeros(sets, np.bool_)
    is_good[sets - 1] = True
    known = np.full_like(section, NEVER)
    for k in range(sets - 2, -1, -1):
        if reached[k] >= NEVER:
            continue
        for s in range(1, sets - k):
            if section[k, s] < NEVER and is_good[k + s]:
                known[k, s] = section[k, s]
                is_good[k] = True
    return known
