"""Why a part found no place, and what came nearest, in words that name the user's own things."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from scanner.board.board import Board
from scanner.placement.ground.rooms import Room, Rooms
from scanner.placement.layout import Unplaced
from scanner.placement.names_in_words import joined
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import refusal_of
from scanner.placement.said.offers import offers_of, room_left, rounded_down
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm, tenths_up
from scanner.placement.wanted.staves import is_glued
from scanner.units import length_text

_ASKS = {
    Faces.BOTH: "free of flaws on both faces",
    Faces.SHOW: "free of flaws on one face",
    Faces.SOUND: "sound",
    Faces.HIDDEN: "sound",
}
# Boards looked at for the nearest one; in a large lot the first ones allowed stand for the rest.
_MOST_BOARDS = 40
_SHORTEST_WORTH_NAMING_MM = 100.0
_MOST_OFFERS = 2
# How a refusal goes on that holds of several boards.
_OF_SEVERAL = {"is": "are", "has": "have", "leaves": "leave"}
# A room that is as long or wide as was asked, but for the tenths that the search counts in.
_SAME_MM = 0.15


def unplaced_of(
    part: Part,
    copies: int,
    boards: Sequence[Board],
    shop: Shop,
    is_any_placed: bool,
    rooms: Rooms | None = None,
) -> Unplaced:
    """Return the reason why these copies found no place, and what would let one fit after all.

    ``rooms``: the same for all parts of a lot, with what lies on its boards.
    """
    if rooms is not None and (left := _left_to_hand(part, copies, boards, shop, rooms)):
        return left
    rooms = rooms or Rooms(shop)
    found = _reason(part, copies, boards, shop, is_any_placed, rooms)
    offers = offers_of(part, boards[:_MOST_BOARDS], shop, rooms)
    nearest = "; or ".join((*((found.nearest,) if found.nearest else ()), *offers[:_MOST_OFFERS]))
    return replace(found, nearest=nearest.replace("; or ", "; ", 1) if found.nearest else nearest)


def _left_to_hand(
    part: Part, copies: int, boards: Sequence[Board], shop: Shop, rooms: Rooms
) -> Unplaced | None:
    """Return where one more copy may lie by hand; None where it may not."""
    left = room_left(part, boards[:_MOST_BOARDS], shop, rooms)
    if left is not None:
        reason = f"the search passed over room for it: {left.id} holds it beside what lies there"
        return Unplaced(part.name, copies, reason, "place the parts again, or lay it there by hand")
    stayed = [board for board in boards[:_MOST_BOARDS] if rooms.taken.get(board.id)]
    left = room_left(part, stayed, shop, rooms.with_taken_ground())
    if left is None:
        return None
    reason = (
        f"{left.id} has room for it only beside what is cut or locked there, where no search lays "
        "anything"
    )
    return Unplaced(part.name, copies, reason, "lay it there by hand")


def extra_missing(
    part: Part, copies: int, boards: Sequence[Board], shop: Shop, rooms: Rooms
) -> Unplaced:
    """Return why spares or fillers found no place: they only take what is left on used boards."""
    used = [board for board in boards if rooms.lying.get(board.id)]
    what = ("filler" if part.filler else "spare") + ("" if copies == 1 else "s")
    if not used:
        return Unplaced(part.name, copies, f"{what}: no board is used, so none has left-overs", "")
    if is_glued(part):
        reason = f"{what}: the left-overs of the boards used have no room for its staves"
        return Unplaced(part.name, copies, reason, "")
    length, width = rough_size_mm(part, shop)
    size = f"{_plain(length, shop)} x {length_text(width, shop.units)}"
    may = [board for board in used if refusal_of(board, part, shop) is None][:_MOST_BOARDS]
    left = [r for b in may if (r := rooms.best(b, part, [tenths_up(width)], 1, is_bare=False))]
    best = max(left, key=lambda room: (room.length, room.board.id), default=None)
    if best is None or best.length < length - 0.05:
        reason = f"{what}: no left-over of the boards used is {_asks(part, shop)} over {size}"
        is_worth_naming = best is not None and best.length >= _SHORTEST_WORTH_NAMING_MM
        nearest = (
            _room_text(best, shop, (length, width)) if best is not None and is_worth_naming else ""
        )
        return Unplaced(part.name, copies, reason, nearest)
    beside = "to its set, or " if part.match else ""
    reason = (
        f"{what}: {best.board.id} has room for {size} left, but not where straight cuts come "
        f"{beside}to it past what lies there"
    )
    return Unplaced(part.name, copies, reason, "")


def _reason(
    part: Part,
    copies: int,
    boards: Sequence[Board],
    shop: Shop,
    is_any_placed: bool,
    rooms: Rooms,
) -> Unplaced:
    refusals = {board.id: refusal_of(board, part, shop) for board in boards}
    allowed = [board for board in boards if refusals[board.id] is None][:_MOST_BOARDS]
    length, width = rough_size_mm(part, shop)
    size = f"{_plain(length, shop)} x {length_text(width, shop.units)}"
    if not allowed:
        common = Counter(str(refusal) for refusal in refusals.values()).most_common(3)
        said = "; ".join(_boards_text(refusals, text) for text, _ in common)
        return Unplaced(part.name, copies, f"no board may give it: {said}", "")
    long = [room for board in allowed if (room := rooms.longest(board, part, width))]
    best = max(long, key=lambda room: (room.length, room.board.id), default=None)
    if best is not None and best.length >= length - 0.05:
        able = joined([room.board.id for room in long if room.length >= length - 0.05], 3)
        why = "more copies" if is_any_placed else "more parts"
        reason = f"{why} than the wood has room for: {able} could give {size}, but what lies there"
        return Unplaced(
            part.name, copies, f"{reason} counts for more", _room_text(best, shop, (length, width))
        )
    reason = f"no board is {_asks(part, shop)} over {size}"
    if best is not None and best.length >= _SHORTEST_WORTH_NAMING_MM:
        return Unplaced(part.name, copies, reason, _room_text(best, shop, (length, width)))
    widest = [room for board in allowed if (room := rooms.widest(board, part, length))]
    best = max(widest, key=lambda room: (room.width, room.board.id), default=None)
    nearest = _room_text(best, shop, (length, width)) if best is not None else ""
    return Unplaced(part.name, copies, reason, nearest)


def _asks(part: Part, shop: Shop) -> str:
    """Return what a part asks of its faces, and of the knots where these allow some."""
    if part.max_knot_mm is None or part.faces is Faces.BOTH:
        return _ASKS[part.faces]
    larger = f"knots larger than {length_text(part.max_knot_mm, shop.units)}"
    return f"{_ASKS[part.faces]} and {'' if part.faces is Faces.SHOW else 'free '}of {larger}"


def _plain(mm: float, shop: Shop) -> str:
    """Return a length without its unit, for the first of two."""
    text = length_text(mm, shop.units)
    return text.removesuffix(" mm")


def _boards_text(refusals: dict[str, str | None], why: str) -> str:
    ids = [id for id, refusal in refusals.items() if refusal == why]
    verb, _, rest = why.partition(" ")
    return f"{joined(ids, 3)} {_OF_SEVERAL.get(verb, verb) if len(ids) > 1 else verb} {rest}"


def _room_text(room: Room, shop: Shop, asked_mm: tuple[float, float]) -> str:
    """Return a room in words, rounded down; the size asked for is told as everywhere."""
    length, width = (
        asked if abs(there - asked) < _SAME_MM else rounded_down(there, shop)
        for there, asked in zip((room.length, room.width), asked_mm, strict=True)
    )
    return (
        f"{room.board.id} has {_plain(length, shop)} x {length_text(width, shop.units)}"
        f"{room.between()}"
    )
