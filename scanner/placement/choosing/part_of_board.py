"""Part of a board laid out anew: some of its sections are given up, the others stay.

A smaller ruin than a whole board (G. Schrimpf and others, "Record breaking optimization results
using the ruin and recreate principle", Journal of Computational Physics 159 (2000)).
"""

import numpy as np

from scanner.placement.choosing.patterns import THOROUGH, Pattern, best_between, filled, pattern_of
from scanner.placement.choosing.problem import Problem
from scanner.placement.ground.clear_ground import Ground
from scanner.placement.wanted.items import Floats, Ints

# At most so many sections are given up at once.
_MOST_GIVEN_UP = 3


def partly_anew(
    problem: Problem,
    pattern: Pattern,
    price: Floats,
    left: Ints,
    rng: np.random.Generator,
    slides: bool = True,
) -> Pattern:
    """Return the pattern with some of its sections given up and their stretches laid out anew.

    What stays slides to the left as far as its ground lets it, so that the free stretches join, or
    stays where it lies. ``left`` are the copies that other boards leave.
    """
    kerf, ground = problem.types.kerf, problem.grounds[pattern.board]
    groups = [pattern.places[pattern.places[:, 3] == n] for n in np.unique(pattern.places[:, 3])]
    groups.sort(key=lambda places: int(places[0, 5]))
    many = min(len(groups), 1 + int(rng.integers(_MOST_GIVEN_UP)))
    given_up = rng.choice(len(groups), many, replace=False)
    at = ground.x0
    stay: list[Ints] = []
    gaps: list[tuple[int, int]] = []
    for n, places in enumerate(groups):
        if n in given_up:
            continue
        shift = _slack(ground, places, int(places[0, 5]) - at) if slides else 0
        moved = places.copy()
        moved[:, [1, 5, 6]] -= shift
        moved[:, 3] = len(stay)
        gaps.append((at, int(moved[0, 5]) - kerf))
        stay.append(moved)
        at = int(moved[0, 6]) + kerf
    gaps.append((at, ground.x1))
    free = left - np.bincount(
        np.concatenate([p[:, 0] for p in stay]) if stay else np.zeros(0, np.int32),
        minlength=len(left),
    ).astype(np.int32)
    prices = price.astype(np.float32)
    sections = len(stay)
    for ends in sorted(gaps, key=lambda gap: gap[0] - gap[1]):
        if ends[1] <= ends[0]:
            break
        found = best_between(problem, pattern.board, prices, free, THOROUGH, ends)
        if len(found):
            found[:, 3] += sections
            sections = int(found[:, 3].max()) + 1
            free = free - np.bincount(found[:, 0], minlength=len(left)).astype(np.int32)
            stay.append(found)
    places = np.concatenate(stay) if stay else pattern.places[:0]
    if len(places):
        prices[len(problem.types.parts) :] = 0
        places = filled(problem, pattern.board, prices, left, places, same_width=True)
    return pattern_of(pattern.board, places, len(left))


def _slack(ground: Ground, places: Ints, most: int) -> int:
    """Return how far places may slide to the left, at most so far, tenths."""
    for t, x, row in places[:, :3].tolist():
        around = ground.run_around(t, x, row)
        most = min(most, 0 if around is None else x - int(ground.runs[around, 0]))
    return max(0, most)
