"""Which faces, photographed without a word, are the two sides of one board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.board.join import join_faces
from scanner.errors import BoardError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from scanner.board.reading import FaceReading

# A second partner that lies over a face this nearly as well leaves the choice to the user: edges
# are off by 0.3-0.6 mm.
_CLEARLY_BETTER_MM = 0.5


def lies_over(first: FaceReading, second: FaceReading, thickness_mm: float) -> float | None:
    """Return how badly two faces agree as one board's, mm; None where they cannot be one board."""
    try:
        return join_faces(first, second, thickness_mm, ("", "")).disagreement_mm
    except BoardError:
        return None


def pairs_by_outline(
    readings: Sequence[FaceReading],
    thickness_mm: float,
    may_pair: Callable[[int, int], bool] = lambda first, second: True,
    follow: Callable[[int, int], bool] = lambda first, second: False,
) -> tuple[tuple[int, int], ...]:
    """Return index pairs of faces that are each other's best partner, and clearly so.

    What is left out has no partner, or two that fit alike: that is the user's to say.

    Parameters
    ----------
    may_pair
        Whether two faces are allowed at all (their board cards may say otherwise).
    follow
        Whether two faces were photographed as one board's would be: that decides between partners
        that fit alike, and never against one that clearly fits better.
    """
    costs: dict[int, list[tuple[float, int]]] = {i: [] for i in range(len(readings))}
    for i, first in enumerate(readings):
        for j in range(i + 1, len(readings)):
            cost = lies_over(first, readings[j], thickness_mm) if may_pair(i, j) else None
            if cost is None:
                continue
            if follow(i, j):
                cost -= _CLEARLY_BETTER_MM
            costs[i].append((cost, j))
            costs[j].append((cost, i))
    best = {i: _clear_best(sorted(found)) for i, found in costs.items()}
    return tuple((i, j) for i, j in best.items() if j is not None and i < j and best[j] == i)


def _clear_best(found: list[tuple[float, int]]) -> int | None:
    if not found or (len(found) > 1 and found[1][0] - found[0][0] < _CLEARLY_BETTER_MM):
        return None
    return found[0][1]
