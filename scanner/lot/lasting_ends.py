"""Layouts that survive the ends: how much more each end may lose, what is lost, and where it goes.

A check found in a fresh cut takes a little more, or a foot (oak and walnut up to 12 in: trade
answers on end checks). What is lost is tried beside everything that stays.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.placement.ground.may_lie import Room, beside_others, room_of
from scanner.placement.layout import STILL_WOOD, Layout, Placement
from scanner.placement.parts import Part, PartsList, show_faces
from scanner.placement.rules.end_trim import trim_mm
from scanner.placement.shop import Shop
from scanner.placement.validator.dropped import dropped_objections
from scanner.placement.wanted.sets import set_of
from scanner.units import MM_PER_INCH

# What an end may still lose: a clean cut, an end nobody looked at, a long check.
_LOSSES_MM = (12.0, 50.0, 300.0)
_LOSSES_IN = (0.5, 2.0, 12.0)
# Corners of clear ground that are tried on each board.
_MOST_TRIED = 40


@dataclass(frozen=True, slots=True)
class Moved:
    """A part that is lost with an end, and its new place; None where it finds none.

    ``set_moves``: it belongs to a set or a panel, which has to move as a whole.
    """

    lost: Placement
    to: Placement | None
    set_moves: bool = False


@dataclass(frozen=True, slots=True)
class EndLoss:
    """What it means if one end loses so much more than it loses already."""

    board: str
    end: str
    loss_mm: float
    moves: tuple[Moved, ...]

    @property
    def survives(self) -> bool:
        """Whether nothing is lost for good."""
        return all(move.to is not None for move in self.moves)


class Rooms:
    """Where parts may lie on the boards as they are, worked out once for each board and row."""

    def __init__(self, boards: Sequence[Board], shop: Shop) -> None:
        self._boards = {board.id: board for board in boards}
        self._shop = shop
        self._known: dict[tuple[str, str, int | None], Room] = {}

    def room(self, board: str, row: Part, size_mm: tuple[float, float], face: int | None) -> Room:
        """Return the room of a part of this size on a board as it is."""
        key = (board, row.name, face)
        if key not in self._known:
            self._known[key] = room_of(self._boards[board], row, size_mm, self._shop, face)
        return self._known[key]


def losses_of(shop: Shop) -> tuple[float, ...]:
    """Return what an end may still lose, mm: whole figures of the shop's own unit."""
    return tuple(MM_PER_INCH * i for i in _LOSSES_IN) if shop.units == "inch" else _LOSSES_MM


def end_losses(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    losses_mm: Sequence[float] | None = None,
) -> tuple[EndLoss, ...]:
    """Return for each end of each opened board what each loss takes, and where that goes.

    Ends of boards of which something is cut already are left out where no planned part remains.

    ``losses_mm``: the shop's own (`losses_of`) where it is None.
    """
    losses = losses_of(shop) if losses_mm is None else losses_mm
    row_of = {part.name: part for part in parts}
    live = [p for p in layout.placements if p.state != "spoiled" and p.part in row_of]
    rooms = Rooms(boards, shop)
    found = []
    for board in boards:
        own = [p for p in live if p.board == board.id and p.state in STILL_WOOD]
        if not own:
            continue
        for end in sorted(board.ends):
            for loss in losses:
                shorter = with_end_loss(board, end, loss, shop)
                lost = [
                    p
                    for p in own
                    if any(dropped_objections(p, (), row_of[p.part], shorter, shop))
                    and not any(dropped_objections(p, (), row_of[p.part], board, shop))
                ]
                others = [shorter if b.id == board.id else b for b in boards]
                moves = _moved(lost, live, others, row_of, shop, rooms)
                found.append(EndLoss(board.id, end, loss, moves))
    return tuple(found)


def with_end_loss(board: Board, end: str, loss_mm: float, shop: Shop) -> Board:
    """Return the board with one end losing so much more than it loses already."""
    trim = trim_mm(board.ends[end], shop) + loss_mm
    return replace(board, ends={**board.ends, end: replace(board.ends[end], trim_mm=trim)})


def _moved(
    lost: Sequence[Placement],
    live: Sequence[Placement],
    boards: Sequence[Board],
    row_of: Mapping[str, Part],
    shop: Shop,
    rooms: Rooms,
) -> tuple[Moved, ...]:
    gone = {id(p) for p in lost}
    lying = [p for p in live if id(p) not in gone]
    moves = []
    # The largest is the hardest to place.
    for p in sorted(lost, key=lambda p: (-p.length_mm * p.width_mm, p.part, p.copy)):
        row = row_of[p.part]
        tied = p.stave is not None or p.layer is not None or p.nest is not None
        if tied or set_of(row) is not None or p.angle_deg:
            moves.append(Moved(p, None, set_moves=True))
            continue
        place = place_beside(p, row, boards, shop, lying, rooms)
        if place is not None:
            lying.append(place)
        moves.append(Moved(p, place))
    return tuple(moves)


def place_beside(
    p: Placement,
    row: Part,
    boards: Sequence[Board],
    shop: Shop,
    lying: Sequence[Placement],
    rooms: Rooms,
    may: Callable[[Placement, Board], bool] = lambda place, board: True,
) -> Placement | None:
    """Return a place for a part beside what lies, boards already opened first; None without one.

    ``may`` refuses places that are sound but not wanted.
    """
    opened = {one.board for one in lying}
    order = sorted(boards, key=lambda board: (board.id not in opened, board.id != p.board))
    for board in order:
        here = [one for one in lying if one.board == board.id]
        for face in show_faces(row, p.show_face):
            room = rooms.room(board.id, row, (p.length_mm, p.width_mm), face)
            if room.refusal is not None:
                continue
            for x, y in _corners(beside_others(room, here, shop.kerf_mm)):
                new = replace(
                    p, board=board.id, x_mm=round(x, 2), y_mm=round(y, 2), show_face=face,
                    locked=False, state="planned",
                )  # fmt: skip
                # The board may have lost an end since its room was worked out.
                if may(new, board) and not any(dropped_objections(new, here, row, board, shop)):
                    return new
    return None


def _corners(clear: BaseGeometry) -> list[tuple[float, float]]:
    """Return the corners of clear ground to try, from end A on: parts pack best into corners."""
    found = [
        (float(x), float(y))
        for piece in getattr(clear, "geoms", [clear])
        if isinstance(piece, Polygon) and not piece.is_empty
        for x, y in piece.exterior.coords[:-1]
    ]
    found.sort()
    step = max(1, len(found) // _MOST_TRIED)
    return found[::step]
