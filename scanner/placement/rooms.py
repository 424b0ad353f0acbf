"""`Room`: the longest clear ground of a width on a board, and what ends it, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import box

from scanner.board.board import Board
from scanner.placement.items import Ints, rough_size_mm, tenths_up
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.row_tables import part_windows, row_tables
from scanner.placement.rules import zones_of
from scanner.placement.rules.ground import Zone, frame_of
from scanner.placement.shop import Shop
from scanner.placement.turned import turned_shape

_ROW = 10
_EDGE = "the board's edge"


@dataclass(frozen=True, slots=True)
class Room:
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


def longest_room(
    board: Board, part: Part, shop: Shop, width_mm: float, taken: Sequence[Placement] = ()
) -> Room | None:
    """Return the longest room of this width for a part; ``taken``: what lies there already."""
    return best_room(board, part, shop, [tenths_up(width_mm)], 1, taken)


def widest_room(board: Board, part: Part, shop: Shop, length_mm: float) -> Room | None:
    """Return the widest room of this length for a part."""
    _, low, _, high = frame_of(board)
    most = min(tenths_up(rough_size_mm(part, shop)[1]), int((high - low) * 10))
    return best_room(board, part, shop, list(range(most, 100, -20)), tenths_up(length_mm))


def best_room(
    board: Board,
    part: Part,
    shop: Shop,
    widths: Sequence[int],
    shortest: int,
    taken: Sequence[Placement] = (),
) -> Room | None:
    """Return the longest room of the first width that has one; ``widths``, ``shortest``: tenths."""
    left, _, right, _ = frame_of(board)
    shows = (1, 2) if part.faces is Faces.SHOW else (None,)
    best: Room | None = None
    for show in shows:
        zones, table, count, y0, rows = _tables(board, part, shop, show, taken)
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
                best = Room(board, x, y, end - x, width / 10, zones)
            break
    return best


def _tables(
    board: Board, part: Part, shop: Shop, show: int | None, taken: Sequence[Placement]
) -> tuple[tuple[Zone, ...], Ints, Ints, int, int]:
    _, low, _, high = frame_of(board)
    y0 = int(np.floor(low * 10))
    rows = max(1, int(np.ceil((high * 10 - y0) / _ROW)))
    beside = (
        Zone(
            box(*turned_shape(p).bounds).buffer(shop.kerf_mm, join_style="mitre"),
            f"{p.part} {p.copy}",
        )
        for p in taken
    )
    zones = (*zones_of(board, part, shop, show), *beside)
    table, count = row_tables(zones, y0, _ROW, rows, ())
    return zones, table, count, y0, rows
