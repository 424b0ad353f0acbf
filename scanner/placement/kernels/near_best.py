"""The numba loops that list all a board may hold which is worth at least so much.

What a row of sections holds is its key: copies of each item in a field of bits, ``unit`` for a
copy. Two keys hold more than is wanted of some item together where one of them and ``pad``, the
other added, carry out of a bit of ``guard``, the highest of each field (`_over`). Cells, rows,
entries and masks are those of ``sections``.

Keys are found section by section from left to right, in a section strip by strip from row 0 on,
along a strip part by part. What comes later needs only to know where the room left begins, so of
each key the first cell (row, end) counts; one that no completion brings to ``least`` is dropped.
(Listing all that may be part of a better answer, instead of pricing the best alone: R. Baldacci,
N. Christofides and A. Mingozzi, "An exact algorithm for the vehicle routing problem based on the
set partitioning formulation with additional cuts", Mathematical Programming 115 (2008).)
"""

# numba infers the types; the callers in section_grid state them.
# ruff: noqa: ANN001, ANN201, ANN202
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

import numpy as np
from numba import njit

# Lines of strips kept of all rows; more are too many.
_MOST_STRIPS = 400_000
_MOST_OF_A_STRIP = 4000
# The tables come in single precision: what is worth this share less may be enough.
_LESS = 1e-5
_HAIR = 1e-9


@njit(cache=True, nogil=True)
def _slot(keys, turn, now, key):
    """Return where a key is, or belongs, in an open table; places of other turns are free."""
    last = len(keys) - 1
    mixed = (key ^ (key >> 29)) * 0x5851F42D4C957F2D
    i = (mixed ^ (mixed >> 32)) & last
    while turn[i] == now and keys[i] != key:
        i = (i + 1) & last
    return i


@njit(cache=True, nogil=True)
def _over(key, more, pad, guard):
    """Whether two keys, neither in excess itself, hold more than is wanted together."""
    padded = key + pad
    return ((padded & more) | ((padded ^ more) & ~(padded + more))) & guard != 0


@njit(cache=True, nogil=True)
def _alike(mask, j, a, last):
    """Whether row j is clear for the same things as the row before, from cell a to the last."""
    for p in range(mask.shape[0]):
        for s in range(a, min(last, mask.shape[1] - 1) + 1):
            if mask[p, s, j] != mask[p, s, j - 1]:
                return False
    return True


@njit(cache=True, nogil=True)
def _strip(mask, first, behind, long, plane, bit, unit, value, pad, guard, j, a, last, n, key,
           worth, end):  # fmt: skip
    """Append each key that a strip of entries first:behind holds in row j, and its first end.

    Returns how many lines there are then, -1 for too many.
    """
    cells, begin = mask.shape[1], n
    low, high = begin - 1, begin
    while low < high:
        # Keys of one copy more: their ends are final before the next round looks at them.
        for q in range(low, high):
            is_none = q < begin
            at = a if is_none else end[q]
            for e in range(first, behind):
                k = unit[e] if is_none else key[q] + unit[e]
                if not is_none and _over(key[q], unit[e], pad, guard):
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
def _strips(mask, ptr, long, plane, bit, unit, value, pad, guard, a, last, lines, alike, key,
            worth, end, before, tight):  # fmt: skip
    """Fill in what strips that begin at cell a hold: lines[c, j] of group c in row j.

    ``before``: where the same key ended in the row before; ``tight``: cells where a strip ends.
    Returns False where there are too many.
    """
    n, rows, far = np.int64(0), mask.shape[2], np.int64(1) << 40
    tight[:] = False
    for j in range(rows):
        alike[j] = j > 0 and _alike(mask, j, a, last)
        for c in range(len(ptr) - 1):
            if alike[j]:
                lines[c, j] = lines[c, j - 1]
                continue
            begin = n
            n = _strip(mask, ptr[c], ptr[c + 1], long, plane, bit, unit, value, pad, guard, j, a,
                       last, n, key, worth, end)  # fmt: skip
            if n < 0:
                return False
            lines[c, j, 0], lines[c, j, 1] = begin, n
            for z in range(begin, n):
                tight[end[z]] = True
                before[z] = far
                if j > 0:
                    for y in range(lines[c, j - 1, 0], lines[c, j - 1, 1]):
                        if key[y] == key[z]:
                            before[z] = end[y]
    return True


@njit(cache=True, nogil=True)
def _ahead(lines, alike, worth, end, pitch, b, best, ahead):
    """Fill in the most that strips ending by cell b are worth: best[c, j], and from each row on."""
    groups, rows = best.shape
    for j in range(rows):
        for c in range(groups):
            if alike[j]:
                best[c, j] = best[c, j - 1]
                continue
            best[c, j] = 0.0
            for z in range(lines[c, j, 0], lines[c, j, 1]):
                if end[z] <= b:
                    best[c, j] = max(best[c, j], worth[z])
    for j in range(rows - 1, -1, -1):
        ahead[j] = ahead[j + 1]
        for c in range(groups):
            ahead[j] = max(ahead[j], best[c, j] + ahead[j + pitch[c]] if best[c, j] > 0 else 0.0)


@njit(cache=True, nogil=True)
def _section(lines, alike, key, worth, end, before, pitch, b, best, ahead, need, pad, guard, now,
             table, turn, place, head, link, found, gain, row, done):  # fmt: skip
    """List the keys of a section that ends at cell b as found[:n], gain[:n], worth ``need``.

    Keys that other strips would have to bring to ``need`` are among them. Returns n, -1 for too
    many, and the steps taken.
    """
    rows, groups = best.shape[1], best.shape[0]
    head[:] = -1
    i = _slot(table, turn, now, np.int64(0))
    table[i], turn[i], place[i] = 0, now, 0
    found[0], gain[0], row[0] = 0, 0.0, 0
    link[0, 0], link[0, 1], head[0] = 0, -1, 0
    n, links, ready, steps = 1, 1, 0, 0
    for j in range(rows):
        old = ready
        k = head[j]
        while k >= 0:
            if row[link[k, 0]] == j:
                done[ready] = link[k, 0]
                ready += 1
            k = link[k, 1]
        if alike[j] and ready == old:
            continue
        for c in range(groups):
            if best[c, j] <= 0:
                continue
            at = j + pitch[c]
            for z in range(lines[c, j, 0], lines[c, j, 1]):
                if end[z] > b:
                    continue
                # A strip that fits a row before, too, was laid there on all that was ready then.
                is_new = not alike[j] and before[z] > b
                for q in range(0 if is_new else old, ready):
                    steps += 1
                    one = done[q]
                    total = gain[one] + worth[z]
                    k = found[one] + key[z]
                    if total + ahead[at] < need or _over(found[one], key[z], pad, guard):
                        continue
                    i = _slot(table, turn, now, k)
                    if turn[i] != now:
                        if n == len(found):
                            return -1, steps
                        table[i], turn[i], place[i] = k, now, n
                        found[n], gain[n] = k, total
                        n += 1
                    elif row[place[i]] <= at:
                        continue
                    if links == len(link):
                        return -1, steps
                    row[place[i]] = at
                    link[links, 0], link[links, 1], head[at] = place[i], head[at], links
                    links += 1
    return n, steps


@njit(cache=True, nogil=True)
def near_best(mask, ptr, long, plane, bit, value, pitch, unit, pad, guard, line_of, line, rest,
              least, most, work):  # fmt: skip
    """Return all keys worth at least ``least``, each once, and whether these are all.

    Between the two: all keys met on the way, and how each came to be, (n, 4): the number of the
    key before its last section (-1 for none), where that section begins and ends, cells, and
    whether the key is among those worth ``least``.

    unit: of each entry; line_of, line, rest: rows, tables and what lies ahead, as
    ``sections.best_sections`` returns them for ``least`` or less; most: so many keys at most on
    the way; work: so many steps.
    """
    rows, groups, top = mask.shape[2], len(ptr) - 1, len(rest) - 1
    tallest = 1
    for c in range(groups):
        tallest = max(tallest, pitch[c])
    size = 64
    while size < 4 * most:
        size *= 2
    # Keys of the board so far, with the first cell they leave free.
    table, turn, place = (
        np.zeros(size, np.int64),
        np.zeros(size, np.int64),
        np.zeros(size, np.int64),
    )
    keys, gains, cell = np.zeros(most, np.int64), np.zeros(most), np.zeros(most, np.int64)
    ways = np.full((most, 4), -1, np.int64)
    heads, links = np.full(top + 1, -1, np.int64), np.zeros((4 * most, 2), np.int64)
    first = np.int64(1)
    i = _slot(table, turn, first, np.int64(0))
    turn[i], heads[0], links[0, 1] = 1, 0, -1
    n, linked = 1, 1
    # The strips that begin in a cell.
    lines, alike = np.zeros((groups, rows, 2), np.int64), np.zeros(rows, np.bool_)
    key, worth = np.zeros(_MOST_STRIPS, np.int64), np.zeros(_MOST_STRIPS)
    end, before = np.zeros(_MOST_STRIPS, np.int64), np.zeros(_MOST_STRIPS, np.int64)
    tight = np.zeros(top + 1, np.bool_)
    # The keys of a section, and those of sections that begin in this cell and end before.
    inner, inner_turn, inner_place = (
        np.zeros_like(table),
        np.zeros_like(table),
        np.zeros_like(table),
    )
    seen, seen_turn = np.zeros_like(table), np.zeros_like(table)
    best, ahead = np.zeros((groups, rows)), np.zeros(rows + tallest + 1)
    head, link = np.zeros(rows + tallest + 1, np.int64), np.zeros((4 * most, 2), np.int64)
    found, gain = np.zeros(most, np.int64), np.zeros(most)
    row, done = np.zeros(most, np.int64), np.zeros(most, np.int64)
    own = np.zeros(most, np.int64)
    now, steps, enough = 0, 0, least - _LESS * abs(least)
    for a in range(top):
        many, k = 0, heads[a]
        while k >= 0:
            if cell[links[k, 0]] == a:
                own[many] = links[k, 0]
                many += 1
            k = links[k, 1]
        if many == 0 or line_of[a] < 0:
            continue
        here = own[:many].copy()
        here = here[np.argsort(-gains[here])]
        richest, bound = gains[here[0]], line[line_of[a]]
        last = np.int64(-1)
        for b in range(a + 1, top + 1):
            if richest + bound[b] + rest[b] >= enough:
                last = np.int64(b)
        if last < 0:
            continue
        if not _strips(mask, ptr, long, plane, bit, unit, value, pad, guard, a, last, lines, alike,
                       key, worth, end, before, tight):  # fmt: skip
            return keys[:0], keys[:0], ways[:0], False
        new = 0
        for b in range(a + 1, last + 1):
            need = enough - richest - rest[b]
            if not tight[b] or bound[b] < need:
                continue
            _ahead(lines, alike, worth, end, pitch, b, best, ahead)
            if ahead[0] < need:
                continue
            now += 1
            listed, taken = _section(
                lines, alike, key, worth, end, before, pitch, b, best, ahead, need, pad, guard,
                now, inner, inner_turn, inner_place, head, link, found, gain, row, done,
            )  # fmt: skip
            steps += taken + rows * groups
            if listed < 0 or steps > work:
                return keys[:0], keys[:0], ways[:0], False
            for f in range(1, listed):
                i = _slot(seen, seen_turn, a + 1, found[f])
                if gain[f] < need or seen_turn[i] == a + 1:
                    continue
                new += 1
                if new > most:
                    return keys[:0], keys[:0], ways[:0], False
                seen[i], seen_turn[i] = found[f], a + 1
                for q in range(many):
                    total = gains[here[q]] + gain[f]
                    if total + rest[b] < enough:
                        break
                    steps += 1
                    k = keys[here[q]] + found[f]
                    if _over(keys[here[q]], found[f], pad, guard):
                        continue
                    i = _slot(table, turn, first, k)
                    if turn[i] != 1:
                        if n == most:
                            return keys[:0], keys[:0], ways[:0], False
                        table[i], turn[i], place[i] = k, 1, n
                        keys[n], gains[n] = k, total
                        n += 1
                    elif cell[place[i]] <= b:
                        continue
                    if linked == len(links):
                        return keys[:0], keys[:0], ways[:0], False
                    cell[place[i]] = b
                    ways[place[i], 0], ways[place[i], 1], ways[place[i], 2] = here[q], a, b
                    links[linked, 0], links[linked, 1], heads[b] = place[i], heads[b], linked
                    linked += 1
    for k in range(n):
        ways[k, 3] = gains[k] >= least - _HAIR * abs(least)
    return keys[:n][ways[:n, 3] == 1], keys[:n], ways[:n], True
