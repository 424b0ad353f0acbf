"""A former layout as the place where a search begins: what still holds of it stays as it lies.

The search goes on from there and only leaves it for something better, so that a layout made again
is the old one wherever nothing is gained by another.
"""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import count

import numpy as np

from scanner.placement.choosing.patterns import Pattern, pattern_of
from scanner.placement.choosing.problem import Problem
from scanner.placement.ground.clear_ground import Ground
from scanner.placement.laid.cuts import divided
from scanner.placement.layout import Layout, Placement
from scanner.placement.wanted.items import Ints
from scanner.placement.wanted.turned import blank_of

Place = tuple[int, int, int]
_SLACK = 0.6


def former_choice(
    problem: Problem, former: Layout | None, kept: Sequence[Placement]
) -> dict[int, Pattern]:
    """Return what a former layout planned on each board, as far as it is allowed today.

    What is fixed (``kept``) is no longer part of the problem and left out, and so are copies that
    nobody wants any more, and parts whose size or ground has changed.
    """
    shop = problem.shop
    if former is None or (former.cut_class, former.kerf_mm) != (shop.cut_class, shop.kerf_mm):
        return {}
    by_board: dict[str, list[Placement]] = defaultdict(list)
    fixed = {(p.part, p.copy) for p in kept}
    for p in former.placements:
        if p.state == "planned" and not p.locked and (p.part, p.copy) not in fixed:
            by_board[p.board].append(blank_of(p))
    left = problem.types.wanted.copy()
    choice = {}
    for b, board in enumerate(problem.boards):
        if board.id not in by_board:
            continue
        ground = problem.grounds[b]
        places = []
        for t, x, row in _places(problem, ground, by_board[board.id]):
            if left[t] > 0 and ground.run_around(t, x, row) is not None:
                left[t] -= 1
                places.append((t, x, row))
        if places:
            choice[b] = pattern_of(b, _in_stages(problem, ground, places), len(problem.types))
    return choice


def with_former_copies(
    placements: Sequence[Placement],
    former: Layout | None,
    kept: Collection[Placement],
    matched: Collection[str] = (),
) -> list[Placement]:
    """Return the placements; what lies where it lay bears the number it bore, others the lowest.

    Staves, slices and ``matched`` parts keep theirs: numbers tie them to their panel or their set.
    """
    if former is None:
        return list(placements)
    fixed = {(p.part, p.copy) for p in kept}
    bore = {
        (p.part, p.board, round(p.x_mm, 2), round(p.y_mm, 2)): p.copy
        for p in former.placements
        if p.state != "spoiled" and (p.part, p.copy) not in fixed
    }
    tied = {p.part for p in placements if p.stave is not None or p.layer is not None}
    tied |= set(matched)
    free = [p for p in placements if (p.part, p.copy) not in fixed and p.part not in tied]
    names = {}
    used = {(p.part, p.copy) for p in kept}
    for p in free:
        copy = bore.pop((p.part, p.board, round(p.x_mm, 2), round(p.y_mm, 2)), None)
        if copy is not None:
            names[p.part, p.copy] = copy
            used.add((p.part, copy))
    for p in free:
        if (p.part, p.copy) not in names:
            copy = next(n for n in count(1) if (p.part, n) not in used)
            names[p.part, p.copy] = copy
            used.add((p.part, copy))
    return [replace(p, copy=names.get((p.part, p.copy), p.copy)) for p in placements]


def _places(problem: Problem, ground: Ground, placements: Sequence[Placement]) -> list[Place]:
    """Return placements as types with their places; sets that lie as they would today as one."""
    types = problem.types
    sizes = {name: (size.length, size.width) for name, size in types.sizes.items()}
    for t, part in enumerate(types.parts):
        # As they lie on this board: turned parts by their blanks.
        sizes[part.name] = (int(ground.length[t]), int(ground.width[t]))
    rest: dict[tuple[str, int, int], None] = {}
    for p in placements:
        row = (p.y_mm * 10 - ground.y0) / types.row
        size = sizes.get(p.part)
        is_same = size is not None and (
            abs(p.length_mm * 10 - size[0]) < 1 and abs(p.width_mm * 10 - size[1]) < 1
        )
        if is_same and abs(row - round(row)) * types.row < _SLACK:
            rest[p.part, round(p.x_mm * 10), round(row)] = None
    found = []
    for n, arrangement in enumerate(ground.arrangements):
        first = arrangement[0].part.name if arrangement else None
        for _, x, row in [key for key in rest if key[0] == first]:
            whole = [(m.part.name, x + m.x, row + m.row) for m in arrangement]
            if all(key in rest for key in whole):
                found.append((len(types.parts) + n, x, row))
                for key in set(whole):  # slices of one blank share a place
                    del rest[key]
                break
    index = {part.name: t for t, part in enumerate(types.parts)}
    found += [(index[name], x, row) for name, x, row in rest if name in index]
    return found


def _in_stages(problem: Problem, ground: Ground, places: Sequence[Place]) -> Ints:
    """Return the places with section, strip and the section's ends, as the kernels give them."""
    row_mm = problem.types.row / 10
    items = [
        (
            n,
            Placement("", 1, "", x / 10, row * row_mm, ground.length[t] / 10, ground.width[t] / 10),
        )
        for n, (t, x, row) in enumerate(places)
    ]
    kerf = problem.shop.kerf_mm
    out = []
    for s, section in enumerate(divided(items, kerf, along=True)):
        start = min(places[n][1] for n, _ in section)
        stop = max(places[n][1] + int(ground.length[places[n][0]]) for n, _ in section)
        for i, strip in enumerate(divided(section, kerf, along=False)):
            for n, _ in sorted(strip, key=lambda item: item[1].x_mm):
                out.append((*places[n], s, i, start, stop))
    return np.array(out, np.int32)
