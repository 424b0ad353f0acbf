"""Planned parts that lie beside what must stay: they are held with it, as one crosscut frees both.

The search leaves out the whole width of a board along a part that stays (`kept.taken_stretches`);
what lies in that stretch would lose its place though nothing speaks against it.
"""

from collections.abc import Mapping, Sequence

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.validator.dropped import dropped_objections


def held_beside(
    staying: Sequence[Placement],
    planned: Sequence[Placement],
    boards: Mapping[str, Board],
    parts: Mapping[str, Part],
    shop: Shop,
) -> tuple[Placement, ...]:
    """Return the planned parts that share a stretch of board with what stays, as they may today.

    A part whose set is not begun is left to the search, which lays sets out whole.
    """
    begun = {_set_of(parts, p) for p in staying}
    held: list[Placement] = []
    for board in sorted({p.board for p in staying} & set(boards)):
        group = [p for p in staying if p.board == board]
        rest = [
            p
            for p in planned
            if p.board == board and p.part in parts and _set_of(parts, p) in {None, *begun}
        ]
        # What is held may lengthen the stretch, so ask the others again.
        while found := next((p for p in rest if _lies_beside(p, group, shop)), None):
            rest.remove(found)
            part = parts[found.part]
            if not any(dropped_objections(found, group, part, boards[board], shop)):
                group.append(found)
                held.append(found)
    return tuple(held)


def _set_of(parts: Mapping[str, Part], placed: Placement) -> str | None:
    part = parts.get(placed.part)
    return part.match if part else None


def _lies_beside(p: Placement, group: Sequence[Placement], shop: Shop) -> bool:
    return any(
        p.x_mm < q.x_mm + q.length_mm + shop.kerf_mm
        and q.x_mm < p.x_mm + p.length_mm + shop.kerf_mm
        for q in group
    )
