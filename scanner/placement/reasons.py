"""Why a part found no place, and what came nearest, in words that name the user's own things."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import box

from scanner.board.board import Board
from scanner.placement.clear_ground import part_windows, row_tables
from scanner.placement.items import Ints, rough_size_mm, tenths_up
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.layout import Unplaced
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import refusal_of, zones_of
from scanner.placement.rules.ground import Zone, frame_of
from scanner.placement.shop import Shop
from scanner.units import length_text

_ASKS = {
    Faces.BOTH: "free of flaws on both faces",
    Faces.SHOW: "free of flaws on one face",
    Faces.SOUND: "sound",
    Faces.HIDDEN: "sound",
}
_ROW = 10
# Boards looked at for the nearest one; in a large lot the first ones allowed stand for the rest.
_MOST_BOARDS = 40
_SHORTEST_WORTH_NAMING_MM = 100.0


@dataclass(frozen=True, slots=True)
class _Room:
    """The longest ground of a width on a board, mm."""

    board: Board
    x: float
    y: float
    length: float
    width: float
    zones: tuple[Zone, ...]

    def between(self) -> str:
        """Name what ends the room at both ends."""
        first = self._ends_at(self.x - 1.5)
        second = self._ends_at(self.x + self.length + 1.5)
        return f" between {first} and {second}"

    def _ends_at(self, x: float) -> str:
        beside = box(x - 1.5, self.y + 0.5, x + 1.5, self.y + self.width - 0.5)
        touching = [zone.name for zone in self.zones if zone.ground.intersects(beside)]
        # A flaw says more than the board's edge, which is near everywhere.
        return min(touching, key=lambda name: (name == _EDGE, name), default=_EDGE)


_EDGE = "the board's edge"


def unplaced_of(
    part: Part, copies: int, boards: Sequence[Board], shop: Shop, is_any_placed: bool
) -> Unplaced:
    """Return the reason why these copies found no place."""
    refusals = {board.id: refusal_of(board, part, shop) for board in boards}
    allowed = [board for board in boards if refusals[board.id] is None][:_MOST_BOARDS]
    length, width = rough_size_mm(part, shop)
    size = f"{_plain(length, shop)} x {length_text(width, shop.units)}"
    if not allowed:
        common = Counter(str(refusal) for refusal in refusals.values()).most_common(3)
        said = "; ".join(_boards_text(refusals, text) for text, _ in common)
        return Unplaced(part.name, copies, f"no board may give it: {said}", "")
    rooms = [room for board in allowed if (room := _longest(board, part, shop, width))]
    best = max(rooms, key=lambda room: (room.length, room.board.id), default=None)
    if best is not None and best.length >= length - 0.05:
        able = _list([room.board.id for room in rooms if room.length >= length - 0.05])
        why = "more copies" if is_any_placed else "more parts"
        reason = f"{why} than the wood has room for: {able} could give {size}, but what lies there"
        return Unplaced(part.name, copies, f"{reason} counts for more", _room_text(best, shop))
    reason = f"no board is {_ASKS[part.faces]} over {size}"
    if best is not None and best.length >= _SHORTEST_WORTH_NAMING_MM:
        return Unplaced(part.name, copies, reason, _room_text(best, shop))
    widest = [room for board in allowed if (room := _widest(board, part, shop, length))]
    best = max(widest, key=lambda room: (room.width, room.board.id), default=None)
    nearest = _room_text(best, shop) if best is not None else ""
    return Unplaced(part.name, copies, reason, nearest)


def _plain(mm: float, shop: Shop) -> str:
    """Return a length without its unit, for the first of two."""
    text = length_text(mm, shop.units)
    return text.removesuffix(" mm")


def _list(ids: Sequence[str]) -> str:
    shown = list(ids[:3])
    if len(ids) > 3:
        return f"{', '.join(shown)} and {len(ids) - 3} more"
    return " and ".join(shown) if len(shown) < 3 else f"{shown[0]}, {shown[1]} and {shown[2]}"


def _boards_text(refusals: dict[str, str | None], why: str) -> str:
    ids = [id for id, refusal in refusals.items() if refusal == why]
    verb, _, rest = why.partition(" ")
    return f"{_list(ids)} {'are' if verb == 'is' and len(ids) > 1 else verb} {rest}"


def _room_text(room: _Room, shop: Shop) -> str:
    length = np.floor(room.length)
    width = np.floor(room.width)
    return (
        f"{room.board.id} has {_plain(length, shop)} x {length_text(width, shop.units)}"
        f"{room.between()}"
    )


def _tables(
    board: Board, part: Part, shop: Shop, show: int | None
) -> tuple[tuple[Zone, ...], Ints, Ints, int, int]:
    _, low, _, high = frame_of(board)
    y0 = int(np.floor(low * 10))
    rows = max(1, int(np.ceil((high * 10 - y0) / _ROW)))
    zones = zones_of(board, part, shop, show)
    table, count = row_tables(zones, y0, _ROW, rows, ())
    return zones, table, count, y0, rows


def _longest(board: Board, part: Part, shop: Shop, width: float) -> _Room | None:
    """Return the longest room of this width for a part."""
    return _best_room(board, part, shop, [tenths_up(width)], 1)


def _widest(board: Board, part: Part, shop: Shop, length: float) -> _Room | None:
    """Return the widest room of this length for a part."""
    _, low, _, high = frame_of(board)
    most = min(tenths_up(rough_size_mm(part, shop)[1]), int((high - low) * 10))
    return _best_room(board, part, shop, list(range(most, 100, -20)), tenths_up(length))


def _best_room(
    board: Board, part: Part, shop: Shop, widths: list[int], shortest: int
) -> _Room | None:
    """Return the longest room of the first width that has one."""
    left, _, right, _ = frame_of(board)
    shows = (1, 2) if part.faces is Faces.SHOW else (None,)
    best: _Room | None = None
    for show in shows:
        zones, table, count, y0, rows = _tables(board, replace(part), shop, show)
        for width in widths:
            if best is not None and best.width * 10 > width:
                break
            deep = -(-width // _ROW)
            if deep > rows:
                continue
            pointer, runs = kernels_ground.clear_runs(
                table, count, part_windows(width, _ROW, deep), deep,
                int(np.floor(left * 10)), int(np.ceil(right * 10)), shortest,
            )  # fmt: skip
            if not len(runs):
                continue
            longest = int(np.argmax(runs[:, 1] - runs[:, 0]))
            x, end = int(runs[longest, 0]) / 10, int(runs[longest, 1]) / 10
            row = int(np.searchsorted(pointer, longest, side="right")) - 1
            y = (y0 + row * _ROW) / 10
            if best is None or width / 10 > best.width or end - x > best.length:
                best = _Room(board, x, y, end - x, width / 10, zones)
            break
    return best
