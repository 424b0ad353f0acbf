"""Sets of boards near to one that is known to do: up to two boards out, up to two others in.

Most of a layout stays as it lies then, so that a search from it takes a fraction of the steps of
one from nothing (the neighbourhood of M. Fischetti and A. Lodi, "Local branching", Mathematical
Programming 98 (2003)).
"""

from collections.abc import Collection, Sequence
from itertools import combinations

import numpy as np

from scanner.placement.wanted.items import Floats

# So much of the share of wood saved counts as room: sets that save wood and keep room come first.
_SAVED_AS_ROOM = 0.7
# Of more boards than give so many sets only one is changed for one.
_MOST_PAIRS = 200_000


def nearest_untried(
    opened: Collection[int],
    fixed: Collection[int],
    area: Floats,
    capacity: Floats,
    tried: Collection[frozenset[int]],
    least_saved: float,
) -> frozenset[int] | None:
    """Return the most promising set near to the opened boards that needs less wood, or None.

    Parameters
    ----------
    opened, fixed
        Boards that hold everything now; boards that stay open in any case.
    area
        Of each board, mm2 (B,).
    capacity
        What each board is worth at some prices, as a share of what is needed there (K, B).
    tried
        Sets that are no longer asked for.
    least_saved
        Sets that save a smaller share of the wood that may be given up are left out.
    """
    inside = sorted(set(opened) - set(fixed))
    outside = [b for b in range(len(area)) if b not in opened]
    leave, enter = _up_to_two(inside)[1:], _up_to_two(outside)
    if len(leave) * len(enter) > _MOST_PAIRS:
        leave, enter = leave[: len(inside)], enter[: 1 + len(outside)]
    if not leave:
        return None
    known = float(area[inside].sum())
    saved = (_sums(area, leave)[:, None] - _sums(area, enter)[None]) / known
    room = np.full(saved.shape, np.inf)
    for row in capacity:
        of_row = row[list(opened)].sum() - _sums(row, leave)[:, None] + _sums(row, enter)[None]
        room = np.minimum(room, of_row)
    promise = np.where(saved >= least_saved, room + _SAVED_AS_ROOM * saved, -np.inf)
    for n in np.argsort(-promise, axis=None, kind="stable"):
        out, new = divmod(int(n), len(enter))
        if not np.isfinite(promise[out, new]):
            return None
        boards = (frozenset(opened) - set(leave[out])) | set(enter[new])
        if boards not in tried:
            return boards
    return None


def _up_to_two(boards: Sequence[int]) -> list[tuple[int, ...]]:
    return [(), *((b,) for b in boards), *combinations(boards, 2)]


def _sums(value: Floats, groups: Sequence[tuple[int, ...]]) -> Floats:
    return np.array([sum(float(value[b]) for b in group) for group in groups])
