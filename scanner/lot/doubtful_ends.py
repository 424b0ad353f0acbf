"""Parts that show, lying at ends nobody looked at, and exchanges that bring them away at no cost.

How far an end is doubtful says `placement.ground.doubtful`; short, hidden or spare parts belong
there.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from scanner.board.board import Board
from scanner.lot.lasting_ends import Rooms, place_beside
from scanner.placement.ground.doubtful import doubtful_span
from scanner.placement.layout import STILL_WOOD, Layout, Placement
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.sets import set_of


@dataclass(frozen=True, slots=True)
class Exchange:
    """A part that leaves a doubtful end, and the one that takes its place there, if any must."""

    part: Placement
    to: Placement
    end: str
    other: Placement | None = None
    other_to: Placement | None = None


def lies_at(placed: Placement, board: Board, shop: Shop) -> str:
    """Return the doubtful end that a part reaches into, "" where it reaches into none."""
    for end in sorted(board.ends):
        span = doubtful_span(board, end, shop)
        if span and placed.x_mm < span[1] and placed.x_mm + placed.length_mm > span[0]:
            return end
    return ""


def may_lie_at_ends(placed: Placement, part: Part, shop: Shop) -> bool:
    """Whether a part suits a doubtful end: short, not seen, or a spare."""
    is_short = placed.length_mm <= shop.shortest_piece_mm
    return is_short or part.faces is Faces.HIDDEN or placed.copy > part.quantity or part.filler


def free_exchanges(
    layout: Layout, boards: Sequence[Board], parts: PartsList, shop: Shop
) -> tuple[Exchange, ...]:
    """Return exchanges that bring parts away from doubtful ends and cost nothing.

    No part is lost, no board is opened, nothing else moves. Panels, matched sets, nests and parts
    turned to the grain stay.
    """
    row_of = {part.name: part for part in parts}
    known = {board.id: board for board in boards}
    lying = [p for p in layout.placements if p.state != "spoiled" and p.part in row_of]
    opened = [board for board in boards if any(p.board == board.id for p in lying)]
    rooms = Rooms(boards, shop)
    is_calm = partial(_is_calm, shop)
    found: list[Exchange] = []
    for p in list(lying):
        row = row_of[p.part]
        end = lies_at(p, known[p.board], shop) if p.board in known else ""
        if not end or not _may_move(p, row) or may_lie_at_ends(p, row, shop):
            continue
        others = [one for one in lying if one is not p]
        to = place_beside(p, row, opened, shop, others, rooms, is_calm)
        if to is not None:
            found.append(Exchange(p, to, end))
            lying = [*others, to]
            continue
        exchange = _exchange(p, row_of, opened, others, rooms, shop, end)
        if exchange is not None and exchange.other_to is not None:
            found.append(exchange)
            rest = [one for one in others if one is not exchange.other]
            lying = [*rest, exchange.to, exchange.other_to]
    return tuple(found)


def _is_calm(shop: Shop, place: Placement, board: Board) -> bool:
    """Whether a place keeps clear of doubtful ends."""
    return not lies_at(place, board, shop)


def _may_move(placed: Placement, part: Part) -> bool:
    """Whether a copy may lie elsewhere on its own: still wood, not held, and tied to no other."""
    is_alone = placed.stave is None and placed.layer is None and placed.nest is None
    is_loose = placed.state in STILL_WOOD and not placed.locked
    return is_alone and is_loose and not placed.angle_deg and set_of(part) is None


def _exchange(
    p: Placement,
    row_of: Mapping[str, Part],
    opened: Sequence[Board],
    others: Sequence[Placement],
    rooms: Rooms,
    shop: Shop,
    end: str,
) -> Exchange | None:
    """Return the exchange with the first part that suits an end and fits there."""
    for other in others:
        row = row_of[other.part]
        if not _may_move(other, row) or not may_lie_at_ends(other, row, shop):
            continue
        rest = [one for one in others if one is not other]
        to = place_beside(p, row_of[p.part], opened, shop, rest, rooms, partial(_is_calm, shop))
        if to is None:
            continue
        other_to = place_beside(other, row, opened, shop, [*rest, to], rooms)
        if other_to is not None:
            return Exchange(p, to, end, other, other_to)
    return None
