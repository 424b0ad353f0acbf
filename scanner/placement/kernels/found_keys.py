"""The numba loops that keep keys found so far, each with the first place that it leaves free.

Places are the cells of a board or the rows of a section; keys are what ``near_best`` lists. Whoever
goes through the places in turn asks at each which keys leave off there.
"""

# numba infers the types; its caller, near_best, states them.
# ruff: noqa: ANN001, ANN201
# mypy: disallow-untyped-defs=False, disallow-untyped-calls=False

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

# What `note` returns instead of a number.
NO_BETTER, NO_ROOM = -1, -2


class KeyTable(NamedTuple):
    """Keys in an open table of 2^n places; those noted in another turn than now are free.

    Attributes
    ----------
    key, turn, number
        A key, the turn it was noted in, and its number among those found, (2^n,) int64.
    """

    key: NDArray[np.int64]
    turn: NDArray[np.int64]
    number: NDArray[np.int64]


class FoundKeys(NamedTuple):
    """Keys in the order in which they were found, with room for N.

    Attributes
    ----------
    key, gain, free
        Keys (N,) int64, what they are worth (N,) float64, the place they leave off at (N,) int64.
    head, link
        Keys by where they left off when they were noted: the first link of each place, -1 for
        none; of a link the number of its key and the next link, (4 N, 2) int64.
    many
        How many keys and links there are, (2,) int64.
    order
        Numbers of the keys whose place is reached, in turn, (N,) int64.
    table
        Which number each key has.
    """

    key: NDArray[np.int64]
    gain: NDArray[np.float64]
    free: NDArray[np.int64]
    head: NDArray[np.int64]
    link: NDArray[np.int64]
    many: NDArray[np.int64]
    order: NDArray[np.int64]
    table: KeyTable


@njit(cache=True, nogil=True)
def empty_table(size):
    """Return a table of so many places, a power of 2."""
    return KeyTable(np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64))


@njit(cache=True, nogil=True)
def nothing_found(most, places, size):
    """Return room for so many keys, places and entries of the table (a power of 2, over N)."""
    return FoundKeys(
        np.zeros(most, np.int64), np.zeros(most), np.zeros(most, np.int64),
        np.full(places, -1, np.int64), np.zeros((4 * most, 2), np.int64), np.zeros(2, np.int64),
        np.zeros(most, np.int64), empty_table(size),
    )  # fmt: skip


@njit(cache=True, nogil=True)
def slot(table, now, key):
    """Return where a key is, or belongs, in a table."""
    last = len(table.key) - 1
    mixed = (key ^ (key >> 29)) * 0x5851F42D4C957F2D
    i = (mixed ^ (mixed >> 32)) & last
    while table.turn[i] == now and table.key[i] != key:
        i = (i + 1) & last
    return i


@njit(cache=True, nogil=True)
def note(found, now, key, gain, free):
    """Note a key worth ``gain`` that leaves off at ``free``, and return its number.

    NO_BETTER where it is known to leave off no later, NO_ROOM where no more can be noted. now: the
    turn; what was noted in another is forgotten.
    """
    i = slot(found.table, now, key)
    if found.table.turn[i] != now:
        n = found.many[0]
        if n == len(found.key):
            return NO_ROOM
        found.table.key[i], found.table.turn[i], found.table.number[i] = key, now, n
        found.key[n], found.gain[n] = key, gain
        found.many[0] = n + 1
    elif found.free[found.table.number[i]] <= free:
        return NO_BETTER
    link = found.many[1]
    if link == len(found.link):
        return NO_ROOM
    number = found.table.number[i]
    found.free[number] = free
    found.link[link, 0], found.link[link, 1], found.head[free] = number, found.head[free], link
    found.many[1] = link + 1
    return number


@njit(cache=True, nogil=True)
def reach(found, at, ready):
    """Append the numbers of the keys that leave off at a place to ``found.order``.

    ``ready`` are set already; returns how many are then. A key that was noted here and found to
    leave off earlier since is none of them.
    """
    k = found.head[at]
    while k >= 0:
        if found.free[found.link[k, 0]] == at:
            found.order[ready] = found.link[k, 0]
            ready += 1
        k = found.link[k, 1]
    return ready
