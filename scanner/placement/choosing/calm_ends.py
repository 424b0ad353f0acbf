"""Sections of a board in another order, so that what shows leaves the doubtful ends.

It costs nothing: the same parts come from the same boards. An end is doubtful where nobody looked
at it (``doubtful``); short and hidden parts suit it.
"""

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from scanner.placement.choosing.choice import Choice
from scanner.placement.choosing.patterns import Pattern, pattern_of
from scanner.placement.choosing.problem import Problem
from scanner.placement.ground.clear_ground import Ground
from scanner.placement.ground.doubtful import doubtful_span
from scanner.placement.parts import Faces
from scanner.placement.wanted.items import Ints


def with_calm_ends(problem: Problem, choice: Choice, former: Choice) -> dict[int, Pattern]:
    """Return the choice; boards on which a former layout has no say have what suits at the ends."""
    return {
        b: pattern if b in former else _calmed(problem, pattern) for b, pattern in choice.items()
    }


def _calmed(problem: Problem, pattern: Pattern) -> Pattern:
    board = problem.boards[pattern.board]
    spans = [
        (span[0] * 10, span[1] * 10)
        for end in sorted(board.ends)
        if (span := doubtful_span(board, end, problem.shop)) is not None
    ]
    if not spans or not len(pattern.places):
        return pattern
    ground = problem.grounds.at_hand(pattern.board)
    suits = _suiting(problem)
    best, least = pattern, _exposed(ground, pattern.places, suits, spans)
    while least > 0:
        found = None
        for order in _neighbours(_sections(ground, best.places, problem.types.kerf)):
            places = _in_order(ground, order, problem.types.kerf)
            if places is None:
                continue
            exposed = _exposed(ground, places, suits, spans)
            if exposed < least:
                found, least = places, exposed
        if found is None:
            break
        best = pattern_of(pattern.board, found, len(problem.types))
    return best


def _suiting(problem: Problem) -> NDArray[np.bool_]:
    """Return which types suit a doubtful end, (T,)."""
    shortest = problem.shop.shortest_piece_mm * 10
    alone = [
        part.faces is Faces.HIDDEN or problem.types.sizes[part.name].length <= shortest
        for part in problem.types.parts
    ]
    return np.array([*alone, *(False for _ in problem.types.sets)], np.bool_)


def _exposed(
    ground: Ground,
    places: Ints,
    suits: NDArray[np.bool_],
    spans: list[tuple[float, float]],
) -> float:
    """Return how much wood of parts that do not suit lies in the spans, square tenths."""
    total = 0.0
    for t, x in places[:, :2]:
        if not suits[t]:
            end = x + ground.length[t]
            along = sum(max(0.0, min(end, b) - max(x, a)) for a, b in spans)
            total += along * float(ground.width[t])
    return total


def _sections(ground: Ground, places: Ints, kerf: int) -> list[Ints]:
    """Return the places in as many sections as crosscuts can make of them, from end A on."""
    found: list[Ints] = []
    along = places[np.argsort(places[:, 1], kind="stable")]
    ends = np.maximum.accumulate(along[:, 1] + ground.length[along[:, 0]])
    first = 0
    for n in range(1, len(along) + 1):
        if n == len(along) or along[n, 1] >= ends[n - 1] + kerf:
            section = along[first:n].copy()
            # Strip by strip, as the kernels give them.
            section = section[np.lexsort((section[:, 1], section[:, 2], section[:, 4]))]
            section[:, 5], section[:, 6] = along[first, 1], ends[n - 1]
            found.append(section)
            first = n
    return found


def _neighbours(sections: list[Ints]) -> Iterator[list[Ints]]:
    """Yield the orders in which two sections have changed places, or one has moved."""
    many = len(sections)
    for i, j in combinations(range(many), 2):
        order = list(range(many))
        order[i], order[j] = order[j], order[i]
        yield [sections[n] for n in order]
    for i in range(many):
        rest = [n for n in range(many) if n != i]
        for j in range(many):
            if abs(i - j) > 1:
                yield [sections[n] for n in (*rest[:j], i, *rest[j:])]


def _in_order(ground: Ground, sections: list[Ints], kerf: int) -> Ints | None:
    """Return the sections one after another from end A, each where its ground first allows it.

    None where they do not all find room.
    """
    at, laid = ground.x0, []
    for n, section in enumerate(sections):
        shift = _least_shift(ground, section, at - int(section[0, 5]))
        if shift is None:
            return None
        moved = section.copy()
        moved[:, [1, 5, 6]] += shift
        moved[:, 3] = n
        laid.append(moved)
        at = int(moved[0, 6]) + kerf
    return np.concatenate(laid)


def _least_shift(ground: Ground, section: Ints, least: int) -> int | None:
    """Return the smallest shift from ``least`` on at which all parts lie on clear ground."""
    shift, is_settled = least, False
    while not is_settled:
        is_settled = True
        for t, x, row in section[:, :3]:
            runs = ground.runs_of(t, row)
            starts = runs[runs[:, 1] - ground.length[t] >= x + shift]
            starts = starts[starts[:, 1] - starts[:, 0] >= ground.length[t]]
            if not len(starts):
                return None
            first = int(starts[:, 0].min()) - int(x)
            if first > shift:
                shift, is_settled = first, False
    return shift
