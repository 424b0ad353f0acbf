"""`Room`: the longest clear ground of a width on a board, and what ends it, in words."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np
from shapely.geometry import box

from scanner.board.board import Board
from scanner.placement.copy_names import names_of
from scanner.placement.ground.known_zones import known_zones
from scanner.placement.ground.relaxed_ground import inner_windows
from scanner.placement.ground.row_tables import part_windows, row_tables
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part, show_faces
from scanner.placement.rules import need_of
from scanner.placement.rules.ground import Zone, frame_of, on_one_edge
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Ints, rough_size_mm, tenths_up
from scanner.placement.wanted.turned import turned_shape

_ROW = 10
_EDGE = "the board's edge"
# Blocked rows take about half a megabyte a board and need.
_MOST_TABLES = 400

# Board id, whether what lies there counts, need, show face, number of the edge with wane.
_Key = tuple[str, bool, object, int | None, int | None]


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


@dataclass(slots=True)
class Rooms:
    """Finds rooms on the boards of one lot, bare or beside what lies there (``lying``).

    ``taken``: stretches along boards in which nothing more is laid unasked, mm: beside what stays.
    ``called``: what a part's name and a copy's number make, as people know it.
    What the flaws of a board block is worked out once for all parts that ask the same of the wood;
    so a lot of hundreds of boards has its reasons in seconds.
    """

    shop: Shop
    lying: Mapping[str, Sequence[Placement]] = field(default_factory=dict)
    taken: Mapping[str, Sequence[tuple[float, float]]] = field(default_factory=dict)
    called: Callable[[str, int], str] = field(default_factory=lambda: names_of(()))
    _frames: dict[str, tuple[float, float, float, float]] = field(default_factory=dict)
    _zones: dict[_Key, tuple[Zone, ...]] = field(default_factory=dict)
    _tables: dict[_Key, tuple[Ints, Ints]] = field(default_factory=dict)

    def with_taken_ground(self) -> "Rooms":
        """Return the same where that ground is to be had, too, as it is by hand."""
        return Rooms(self.shop, self.lying, called=self.called)

    def longest(self, board: Board, part: Part, width_mm: float) -> Room | None:
        """Return the longest room of this width for a part on the bare board."""
        return self.best(board, part, [tenths_up(width_mm)], 1, is_bare=True)

    def widest(self, board: Board, part: Part, length_mm: float) -> Room | None:
        """Return the widest room of this length for a part on the bare board."""
        _, low, _, high = self._frame(board)
        most = min(tenths_up(rough_size_mm(part, self.shop)[1]), int((high - low) * 10))
        widths = list(range(most, 100, -20))
        return self.best(board, part, widths, tenths_up(length_mm), is_bare=True)

    def corners_mm(
        self, board: Board, part: Part, show: int | None
    ) -> list[tuple[float, float, float, float]]:
        """Return where the corner of one more copy might be, beside what lies there.

        Nowhere else: stretches x, y, x, y (mm) that hold every place there is, however little
        room to spare it has, and others.
        """
        left, _, right, _ = self._frame(board)
        y0, rows = self._extent(board)
        length, width = (size * 10 for size in rough_size_mm(part, self.shop))
        deep = max(1, int(width // _ROW))
        if deep > rows:
            return []
        _, table, count = self._blocked(board, part, show, is_bare=False)
        # What is blocked was rounded outwards to whole tenths at either end.
        pointer, runs = kernels_ground.clear_runs(
            table, count, inner_windows(width, _ROW), deep,
            int(np.floor(left * 10)) - 1, int(np.ceil(right * 10)) + 1, int(length) - 2,
        )  # fmt: skip
        row = np.searchsorted(pointer, np.arange(len(runs)), side="right") - 1
        return [
            ((a - 1) / 10, y / 10, (b + 1 - length) / 10, (y + _ROW) / 10)
            for (a, b), y in zip(runs.tolist(), (y0 + row * _ROW).tolist(), strict=True)
        ]

    def forget(self, board: Board) -> None:
        """Look anew at a board next time: something more lies there."""
        for key in [key for key in self._tables if key[:2] == (board.id, True)]:
            del self._tables[key]

    def best(
        self, board: Board, part: Part, widths: Sequence[int], shortest: int, is_bare: bool
    ) -> Room | None:
        """Return the longest room of the first width that has one; sizes in tenths."""
        left, _, right, _ = self._frame(board)
        y0, rows = self._extent(board)
        best: Room | None = None
        for show, edge in product(show_faces(part), self._edges(board, part)):
            zones, table, count = self._blocked(board, part, show, is_bare, edge)
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

    def _frame(self, board: Board) -> tuple[float, float, float, float]:
        if board.id not in self._frames:
            self._frames[board.id] = frame_of(board)
        return self._frames[board.id]

    def _extent(self, board: Board) -> tuple[int, int]:
        """Return where the board's rows begin, tenths, and how many there are."""
        _, low, _, high = self._frame(board)
        y0 = int(np.floor(low * 10))
        return y0, max(1, int(np.ceil((high * 10 - y0) / _ROW)))

    def _edges(self, board: Board, part: Part) -> Sequence[int | None]:
        """Return the numbers of the edges that may carry wane where that matters, else None."""
        if part.faces is not Faces.HIDDEN:
            return (None,)
        ways = on_one_edge(known_zones(board, part, self.shop, None))
        return range(len(ways)) if len(ways) > 1 else (None,)

    def _blocked(
        self, board: Board, part: Part, show: int | None, is_bare: bool, edge: int | None = None
    ) -> tuple[tuple[Zone, ...], Ints, Ints]:
        """Return what a part may not take, and the same as blocked rows.

        ``edge``: which of the part's long edges may carry wane; None: each wane by itself.
        """
        lies = () if is_bare else self.lying.get(board.id, ())
        taken = () if is_bare else tuple(self.taken.get(board.id, ()))
        key = (board.id, bool(lies or taken), need_of(board, part), show, edge)
        if key not in self._tables:
            bare = known_zones(board, part, self.shop, show)
            if edge is not None:
                bare = on_one_edge(bare)[edge]
            beside = tuple(
                Zone(
                    box(*turned_shape(p).bounds).buffer(self.shop.kerf_mm, join_style="mitre"),
                    self.called(p.part, p.copy),
                )
                for p in lies
            )
            y0, rows = self._extent(board)
            table, count = row_tables((*bare, *beside), y0, _ROW, rows, taken)
            if len(self._tables) >= _MOST_TABLES:
                self._tables.pop(next(iter(self._tables)))
            # Most rows have few intervals: what is kept has no room for more.
            most = max(1, int(count.max()))
            self._tables[key] = np.ascontiguousarray(table[:, :, :, :most]), count
            self._zones[key] = (*bare, *beside)
        return self._zones[key], *self._tables[key]
