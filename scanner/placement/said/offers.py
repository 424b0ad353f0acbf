"""What would let an unplaced part fit after all: offered in words, never done unasked.

An allowance is there for the shop's own cuts, so a part laid with less of it needs more care; what
a part asks of its faces is the maker's to give up. So the tool names what it would take, and the
maker changes the parts list or does not.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from shapely.geometry import box

from scanner.board.board import Board
from scanner.placement.ground.rooms import Room, Rooms
from scanner.placement.laid.cuts import frees_all
from scanner.placement.layout import Placement
from scanner.placement.names_in_words import joined
from scanner.placement.parts import LOOSER, Part
from scanner.placement.rules import refusal_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm, tenths_up
from scanner.placement.wanted.turned import sawn_blanks
from scanner.units import MM_PER_INCH, length_text

# Less than this of a width allowance straightens no edge: one pass of the jointer on each.
LEAST_WIDTH_KEPT_MM = 3.0
# A part is offered shorter or narrower by this much at most.
MOST_SMALLER = 0.1
_STEP_MM = 1.0


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a part of this rough size could lie, mm."""

    room: Room
    length: float
    width: float


def offers_of(part: Part, boards: Sequence[Board], shop: Shop, rooms: Rooms) -> tuple[str, ...]:
    """Return what would let one more copy fit, what costs the maker least first.

    First beside what lies on the boards; only where nothing does, in its place. A part that would
    fit there without giving up anything gets no offer: what lies there counts for more.
    """
    allowed = [board for board in boards if refusal_of(board, part, shop) is None]
    beside = tuple(_offers(part, allowed, shop, rooms, is_bare=False))
    if beside or not any(rooms.lying.values()):
        return beside
    if any(_holds_whole(part, board, shop, rooms, is_bare=True) for board in allowed):
        return ()
    instead = _offers(part, allowed, shop, rooms, is_bare=True)
    return tuple(f"{offer}, in place of what lies there" for offer in instead)


def room_left(part: Part, boards: Sequence[Board], shop: Shop, rooms: Rooms) -> Board | None:
    """Return a board that holds one more copy as it is, beside what lies there.

    A search that ended too soon leaves such room, or one whose steps are coarser than the room.
    """
    allowed = (board for board in boards if refusal_of(board, part, shop) is None)
    return next((b for b in allowed if _holds_whole(part, b, shop, rooms, is_bare=False)), None)


def _holds_whole(part: Part, board: Board, shop: Shop, rooms: Rooms, *, is_bare: bool) -> bool:
    length, width = rough_size_mm(part, shop)
    return _place(rooms, shop, is_bare, board, part, [width], length, length) is not None


def _offers(
    part: Part, boards: Sequence[Board], shop: Shop, rooms: Rooms, is_bare: bool
) -> Iterator[str]:
    """Yield an offer of each kind that some board allows."""
    on = {board.id: () if is_bare else rooms.lying.get(board.id, ()) for board in boards}
    place_of = partial(_place, rooms, shop, is_bare)
    length, width = rough_size_mm(part, shop)
    spare_length, spare_width = length - part.length_mm, width - part.width_mm

    def fits(board: Board) -> str:
        return f"fits {board.id}{' beside what lies there' if on[board.id] else ''}"

    def first(rank: Callable[[Board], tuple[float, str] | None]) -> str | None:
        found = [answer for board in boards if (answer := rank(board)) is not None]
        return max(found, default=(0.0, None), key=lambda answer: answer[0])[1]

    def less_length(board: Board) -> tuple[float, str] | None:
        least = part.length_mm + shop.kerf_mm
        place = place_of(board, part, [width], least, length)
        if place is None or spare_length <= shop.kerf_mm:
            return None
        kept = rounded_down(place.length - part.length_mm, shop)
        return kept, fits(board) + _allowance_text(kept, spare_length, "length", shop)

    def less_width(board: Board) -> tuple[float, str] | None:
        steps = math.floor((spare_width - LEAST_WIDTH_KEPT_MM) / _STEP_MM)
        widths = [width - n * _STEP_MM for n in range(1, steps + 1)]
        place = place_of(board, part, widths, length, length)
        if place is None:
            return None
        kept = rounded_down(place.width - part.width_mm, shop)
        return kept, fits(board) + _allowance_text(kept, spare_width, "width", shop)

    def other_faces(board: Board) -> tuple[float, str] | None:
        looser = LOOSER.get(part.faces)
        if looser is None:
            return None
        place = place_of(board, replace(part, faces=looser), [width], length, length)
        if place is None:
            return None
        names = _flaws_in(board, place)
        if not names:
            return None
        return -len(names), f"{fits(board)} if {joined(names)} may be in it (faces: {looser})"

    def smaller(board: Board) -> tuple[float, str] | None:
        least = length - MOST_SMALLER * part.length_mm
        place = place_of(board, part, [width], least, length)
        if place is not None:
            short = length - place.length
            return -short, f"{fits(board)} if {_up_text(short, shop)} shorter"
        return None

    allowances = [text for rank in (less_length, less_width) if (text := first(rank))]
    yield from allowances
    if not allowances and (text := first(smaller)):
        yield text
    if text := first(other_faces):
        yield text


def _place(
    rooms: Rooms,
    shop: Shop,
    is_bare: bool,
    board: Board,
    part: Part,
    widths: Sequence[float],
    least_mm: float,
    most_mm: float,
) -> _Place | None:
    """Return the first of these widths with a place at least so long that saws can free."""
    lying = () if is_bare else rooms.lying.get(board.id, ())
    for width in widths:
        room = rooms.best(board, part, [tenths_up(width)], tenths_up(least_mm), is_bare)
        if room is None:
            continue
        length = min(room.length, most_mm)
        for x in (room.x, room.x + room.length - length):
            new = Placement(part.name, 0, board.id, x, room.y, length, width)
            every = list(enumerate(sawn_blanks((*lying, new))))
            if shop.cut_class == "any" or frees_all(
                every, shop.kerf_mm, shop.cut_class == "three_stage"
            ):
                return _Place(replace(room, x=x), length, width)
    return None


def _flaws_in(board: Board, place: _Place) -> list[str]:
    """Name the flaws that a part there would carry."""
    room = place.room
    ground = box(room.x, room.y, room.x + place.length, room.y + place.width)
    return [
        f"{flaw.kind.words} {flaw.id} (face {' and '.join(map(str, on))})"
        for flaw in board.flaws
        if flaw.counts
        and (on := sorted(n for n, shape in flaw.outlines.items() if shape.intersects(ground)))
    ]


def _allowance_text(kept: float, full: float, side: str, shop: Shop) -> str:
    return (
        f" with {length_text(kept, shop.units)} of its "
        f"{length_text(full, shop.units)} {side} allowance ({side}_allowance)"
    )


def rounded_down(mm: float, shop: Shop) -> float:
    """Return a length rounded down to what is written: millimetres, or sixteenths."""
    step = MM_PER_INCH / 16 if shop.units == "inch" else 1.0
    return math.floor(mm / step + 1e-6) * step


def _up_text(mm: float, shop: Shop) -> str:
    return length_text(-rounded_down(-mm, shop), shop.units)
