"""The validator's own view of matched sets: one board, all or none, close together, in order."""

import itertools
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.validator.limits import ALIKE_THICKNESS_MM, SAWN
from scanner.placement.validator.objection import Objection, Rule, copies_of, rows_of

# Strips begin at whole millimetres or less: neighbours may stand that much wider than a kerf.
_ROOM_MM = 1.1


@dataclass(frozen=True, slots=True)
class _Set:
    """The rows of one matched set, and what of it is placed."""

    name: str
    rows: tuple[Part, ...]
    placed: tuple[Placement, ...]

    @property
    def names(self) -> list[str]:
        return [part.name for part in self.rows]

    def objection(self, words: str, *others: Placement) -> Objection:
        named = (*copies_of(*others), *rows_of(*self.names))
        return Objection(Rule.SET, f"set {self.name}{words}", parts=named)


def set_objections(
    placements: Sequence[Placement], board_of: Mapping[str, Board], parts: PartsList, kerf: float
) -> Iterator[Objection]:
    """Say what is wrong with the matched sets among the live placements."""
    rows: dict[str, list[Part]] = defaultdict(list)
    for part in parts:
        if part.match:
            rows[part.match].append(part)
    for name, own in rows.items():
        if sum(part.quantity for part in own) < 2:
            continue
        names = {part.name for part in own}
        one = _Set(name, tuple(own), tuple(p for p in placements if p.part in names))
        is_begun = any(p.locked or p.state in SAWN for p in one.placed)
        if one.placed and not is_begun:
            yield from _all_or_none(one)
        yield from _boards(one, board_of)
        if not is_begun:
            yield from _close(one, placements, kerf)
            if name.endswith(":in_order"):
                yield from _in_order(one)


def _all_or_none(own: _Set) -> Iterator[Objection]:
    for part in own.rows:
        count = sum(p.part == part.name for p in own.placed)
        if count < part.quantity:
            words = f"{count} of {part.quantity} {part.name} placed, not all or none"
            yield own.objection(f": {words}")


def _boards(own: _Set, board_of: Mapping[str, Board]) -> Iterator[Objection]:
    boards = [board_of[id] for id in sorted({p.board for p in own.placed})]
    if len(boards) > 2:
        yield own.objection(f" lies on {len(boards)} boards")
    if len(boards) == 2:
        apart = abs(boards[0].thickness.value_mm - boards[1].thickness.value_mm)
        species = {board.species.lower().strip() for board in boards}
        if len(species) > 1 or apart > ALIKE_THICKNESS_MM + 1e-6:
            two = f"{boards[0].id} and {boards[1].id}"
            yield own.objection(f" lies on {two}, which are not alike")


def _close(own: _Set, every: Sequence[Placement], kerf: float) -> Iterator[Objection]:
    """Ask that the members hang together, a kerf from the next, in two groups at most."""
    groups = sorted(_groups(own.placed, kerf), key=len, reverse=True)
    # Spares may lie further off; the copies asked for may not.
    apart = [p for group in groups[2:] for p in group]
    if any(_is_asked_for(p, own, apart) for p in apart):
        yield own.objection(": its members do not lie beside each other")
    for group in groups:
        for q in every:
            if q.board == group[0].board and q.part not in own.names and _is_between(q, group):
                words = f"{q.part} {q.copy} lies between its members on {q.board}"
                yield own.objection(f": {words}", q)


def _groups(placed: Sequence[Placement], kerf: float) -> list[list[Placement]]:
    """Divide placements into groups of neighbours."""
    rest = list(placed)
    groups = []
    while rest:
        group = [rest.pop(0)]
        for p in group:
            near = [q for q in rest if _are_neighbours(p, q, kerf)]
            rest = [q for q in rest if q not in near]
            group += near
        groups.append(group)
    return groups


def _is_asked_for(p: Placement, own: _Set, apart: Sequence[Placement]) -> bool:
    """Whether the set is short of this part without those that lie apart."""
    together = sum(q.part == p.part and q not in apart for q in own.placed)
    return together < next(part.quantity for part in own.rows if part.name == p.part)


def _are_neighbours(p: Placement, q: Placement, kerf: float) -> bool:
    along = max(q.x_mm - p.x_mm - p.length_mm, p.x_mm - q.x_mm - q.length_mm)
    across = max(q.y_mm - p.y_mm - p.width_mm, p.y_mm - q.y_mm - q.width_mm)
    near = kerf + _ROOM_MM
    return p.board == q.board and ((along < 0 and across <= near) or (across < 0 and along <= near))


def _is_between(q: Placement, own: Sequence[Placement]) -> bool:
    """Whether a foreign part has members on two opposite sides."""
    level = [p for p in own if p.y_mm < q.y_mm + q.width_mm and p.y_mm + p.width_mm > q.y_mm]
    above = [p for p in own if p.x_mm < q.x_mm + q.length_mm and p.x_mm + p.length_mm > q.x_mm]
    return (any(p.x_mm < q.x_mm for p in level) and any(p.x_mm > q.x_mm for p in level)) or (
        any(p.y_mm < q.y_mm for p in above) and any(p.y_mm > q.y_mm for p in above)
    )


def _in_order(own: _Set) -> Iterator[Objection]:
    """Along the grain, in the order of the list and of the copies."""
    for id in sorted({p.board for p in own.placed}):
        along = sorted((p for p in own.placed if p.board == id), key=lambda p: p.x_mm)
        order = [(own.names.index(p.part), p.copy) for p in along]
        if order != sorted(order):
            yield own.objection(f": its members on {id} are not in order along the grain")
        if any(q.x_mm < p.x_mm + p.length_mm for p, q in itertools.pairwise(along)):
            yield own.objection(f": two of its members on {id} do not lie one after another")
