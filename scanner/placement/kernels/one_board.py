"""The numba loops that tell whether one board holds so many copies of each part, place by place.

A set of copies is a number: of each part so many digits as copies are asked (mixed radix), so that
whatever is within another set has a lower number, and the last number is all. Sections are laid
from left to right: of each set laid so far the first place that it leaves free counts. In a
section strips are stacked from row 0 on: of each set the first row that it leaves free counts,
where all its strips end by one place along the board. No cells: places along are whole tenths.

What can follow a set k in a section are pair_set[pair_ptr[k]:pair_ptr[k + 1]], rising: the sets
that are within what is asked together with it. Of all pairs of sets these are few: of single copies
of n parts 3 ** n, not 4 ** n. What is known of sections has a line for each such pair.

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
def alike_rows(pointer, starts):
    """Return whether each row is clear for the same things at the same places as the one before."""
    parts, rows = pointer.shape[0], pointer.shape[1] - 1
    alike = np.ones(rows, np.bool_)
    alike[0] = False
    for j in range(1, rows):
        for t in range(parts):
            before, here = pointer[t, j - 1], pointer[t, j]
            if pointer[t, j + 1] - here != here - before:
                alike[j] = False
                break
            for r in range(here - before):
                for side in range(2):
                    if starts[before + r, side] != starts[here + r, side]:
                        alike[j] = False
    return alike


@njit(cache=True, nogil=True)
def strip_ends(pointer, starts, alike, long, strip_ptr, strip_part, strip_before, a, top, ends):
    """Fill ends[z, j] with where strip z in row j ends at first if it begins at ``a`` or later.

    pointer (T, rows + 1), starts (n, 2): first and last place of each interval; alike (rows,): as
    ``alike_rows`` says; long (T,): from one part to the next. NEVER where there is no room before
    ``top``.
    """
    for j in range(ends.shape[1]):
        for z in range(len(ends)):
            if alike[j]:
                ends[z, j] = ends[z, j - 1]
                continue
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
def pairs(digits, unit):
    """Return the sets that are within all that is asked together with each set: pair_ptr, pair_set.

    digits (K, T): copies in each set, the last one has all; unit (T,): what a copy adds to the
    number of a set.
    """
    sets, parts = digits.shape
    full = digits[sets - 1]
    pair_ptr = np.zeros(sets + 1, np.int64)
    for k in range(sets):
        many = 1
        for t in range(parts):
            many *= full[t] - digits[k, t] + 1
        pair_ptr[k + 1] = pair_ptr[k] + many - 1
    pair_set = np.zeros(pair_ptr[sets], np.int64)
    held = np.zeros(parts, np.int64)
    for k in range(sets):
        held[:] = 0
        s = 0
        for i in range(pair_ptr[k], pair_ptr[k + 1]):
            t = 0
            while held[t] == full[t] - digits[k, t]:
                s -= held[t] * unit[t]
                held[t] = 0
                t += 1
            held[t] += 1
            s += unit[t]
            pair_set[i] = s
    return pair_ptr, pair_set


@njit(cache=True, nogil=True)
def stacked(ends, pitch, less, inside, b, near, near_for, rows_of):
    """Fill rows_of[k] with the first row that set k leaves free, its strips ended by ``b``.

    inside: sets asked for, and all that are left of them without one strip and another, rising.
    near (Z, rows): room for the first row from each on in which a strip ends by then; near_for
    (Z,): the place along that it was last filled for.
    """
    many, rows = ends.shape
    rows_of[0] = 0
    for k in inside:
        least = NEVER
        for z in range(many):
            before = less[k, z]
            if before < 0:
                continue
            row = rows_of[before]
            if row >= rows or row + pitch[z] >= least:
                continue
            if ends[z, row] > b:
                if near_for[z] != b:
                    near_for[z] = b
                    first = rows
                    for j in range(rows - 1, -1, -1):
                        if ends[z, j] <= b:
                            first = j
                        near[z, j] = first
                row = near[z, row]
            if row < rows:
                least = min(least, row + pitch[z])
        rows_of[k] = least


@njit(cache=True, nogil=True)
def first_ends(pointer, starts, long, pitch, strip_ptr, strip_part, strip_before, less, pair_ptr,
               pair_set, known, shortest, latest, x0, top, grain, stride, is_any,
               work):  # fmt: skip
    """Return where each set laid from ``x0`` on ends at first, and each section behind it.

    pitch (Z,): rows from a strip to the next. known[i]: where the section of pair i ends at the
    earliest, as far as is known, NEVER where it is not asked. shortest[k]: how long a section of
    set k is at least; latest[k]: where set k must end to leave room for the rest. grain: ends are
    known to within so much, the earlier ones count; stride: the first step away from what is known.
    is_any: whether any way to lay all is enough. work: so many steps at most.

    Returns the ends of sets (K,), of sections, one a pair, the set before the last section of each
    (K,), and steps taken, -1 for too many.
    """
    sets, rows, many = len(less), pointer.shape[1] - 1, len(pitch)
    reached, before = np.full(sets, NEVER, np.int64), np.full(sets, -1, np.int64)
    section = np.full(len(pair_set), NEVER, np.int64)
    ends, near = np.zeros((many, rows), np.int64), np.zeros((many, rows), np.int64)
    near_for = np.zeros(many, np.int64)
    rows_of, is_in = np.zeros(sets, np.int64), np.zeros(sets, np.bool_)
    low, high = np.zeros(sets, np.int64), np.zeros(sets, np.int64)
    step, asked = np.zeros(sets, np.int64), np.zeros(sets, np.int64)
    inside = np.zeros(sets, np.int64)
    alike = alike_rows(pointer, starts)
    reached[0] = x0
    steps = 0
    for k in range(sets - 1):
        a = reached[k]
        if a >= NEVER:
            continue
        first, behind, n = pair_ptr[k], pair_ptr[k + 1], 0
        for i in range(first, behind):
            s = pair_set[i]
            soonest = max(known[i], a + shortest[s])
            is_in[s] = soonest <= latest[k + s]
            if is_in[s]:
                asked[n] = i
                n += 1
                # It does not end by ``low``; whether it does by ``high`` is asked below.
                low[s], high[s], step[s] = soonest - 1, latest[k + s] + 1, stride
        steps += behind - first
        if n == 0:
            continue
        for i in range(behind - 1, first - 1, -1):
            s = pair_set[i]
            if is_in[s]:
                for z in range(many):
                    if less[s, z] > 0:
                        is_in[less[s, z]] = True
        m = 0
        for i in range(first, behind):
            if is_in[pair_set[i]]:
                inside[m] = pair_set[i]
                m += 1
        strip_ends(pointer, starts, alike, long, strip_ptr, strip_part, strip_before, a, top, ends)
        near_for[:] = -NEVER
        steps += many * rows
        for i in asked[:n][::-1]:
            s = pair_set[i]
            # Later ends first: what ends by none of them need not be asked again.
            while high[s] - low[s] > grain:
                if high[s] > latest[k + s]:
                    b = latest[k + s]
                else:
                    b = min(low[s] + step[s], (low[s] + high[s]) // 2)
                stacked(ends, pitch, less, inside[:m], b, near, near_for, rows_of)
                steps += many * m
                for q in asked[:n]:
                    other = pair_set[q]
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
            section[i] = end
            if end < reached[k + s]:
                reached[k + s], before[k + s] = end, k
        if is_any and reached[sets - 1] < NEVER:
            break
    return reached, section, before, steps


@njit(cache=True, nogil=True)
def still_known(pair_ptr, pair_set, section, reached):
    """Return the sections, one a pair, that may be part of laying all, NEVER for the others."""
    sets = len(reached)
    is_good = np.zeros(sets, np.bool_)
    is_good[sets - 1] = True
    known = np.full_like(section, NEVER)
    for k in range(sets - 2, -1, -1):
        if reached[k] >= NEVER:
            continue
        for i in range(pair_ptr[k], pair_ptr[k + 1]):
            if section[i] < NEVER and is_good[k + pair_set[i]]:
                known[i] = section[i]
                is_good[k] = True
    return known
