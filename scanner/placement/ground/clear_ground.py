"""The clear ground of a board for every part and matched set, as intervals of rows."""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import Board
from scanner.placement.curves.shapes import cover_on, is_upright_rectangle
from scanner.placement.ground.known_zones import known_zones
from scanner.placement.ground.resaw import slices_deep
from scanner.placement.ground.row_tables import part_windows, row_tables
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import need_of, refusal_of
from scanner.placement.rules.ground import frame_of, margin_mm, on_one_edge
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Ints, Types, tenths_up
from scanner.placement.wanted.sets import (
    ANYWHERE_MM,
    Arrangement,
    MatchedSet,
    Member,
    Size,
    arrangements,
    is_one_strip,
    outer_size,
)

# Board id to stretches along it, x from and to in mm, that are no longer to be had.
Stretches = Mapping[str, tuple[tuple[float, float], ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The clear ground of one board for every type.

    Attributes
    ----------
    pointer, runs, faces
        Clear intervals: those of type t and row j are runs[pointer[t, j]:pointer[t, j + 1]],
        start and end in tenths, sorted by start; ``faces`` holds the show face of each, 0 if none.
    length, width, deep, pitch
        Rough size of each type on this board: tenths along and across, rows it covers, and rows
        from one strip to the next (with the kerf), (T,).
    fills
        Whether gaps beside a type in its strip may be filled, (T,): not beside a set of several
        strips.
    arrangements
        How each set lies on this board; empty where it does not fit.
    x0, x1, y0
        Extent of the board, tenths; row j begins at y0 + j * row height.
    """

    board: Board
    pointer: Ints
    runs: Ints
    faces: NDArray[np.int8]
    length: Ints
    width: Ints
    deep: Ints
    pitch: NDArray[np.int64]
    fills: NDArray[np.bool_]
    arrangements: tuple[Arrangement, ...]
    x0: int
    x1: int
    y0: int

    @property
    def rows(self) -> int:
        """The number of rows across the board."""
        return int(self.pointer.shape[1]) - 1

    def runs_of(self, t: int, row: int) -> Ints:
        """Return the clear intervals of type ``t`` in a row, (N, 2)."""
        return self.runs[self.pointer[t, row] : self.pointer[t, row + 1]]

    def run_around(self, t: int, x: int, row: int) -> int | None:
        """Return the number of the first clear interval that holds type ``t`` at x, tenths."""
        if not 0 <= row < self.rows:
            return None
        runs = self.runs_of(t, row)
        around = np.flatnonzero((runs[:, 0] <= x) & (x + self.length[t] <= runs[:, 1]))
        return int(self.pointer[t, row] + around[0]) if len(around) else None


def ground_of(
    board: Board,
    types: Types,
    shop: Shop,
    taken: tuple[tuple[float, float], ...] = (),
    only: Collection[int] | None = None,
) -> Ground:
    """Return the clear ground of one board for every type, or ``only`` for some parts.

    The other parts then seem to have no ground at all.
    """
    clear = Clear(board, types, shop, taken)
    pointer, runs, faces = clear.of_parts(types.parts, only)
    pointers, every_run, every_face = [pointer], [runs], [faces]
    size = [types.sizes[part.name] for part in types.parts]
    fills = [True] * len(types.parts)
    laid = []
    for t, part in enumerate(types.parts):
        if (only is None or t in only) and not is_upright_rectangle(board, part):
            slices, size[t] = cover_on(board, part, shop, types.row, types.kerf)
            found = clear.of_arrangement(slices)
            pointer[t] = found[0] + sum(len(runs) for runs in every_run)
            every_run.append(found[1])
            every_face.append(found[2])
    for one in types.sets:
        arrangement, found = _lay_set(clear, one, types, shop)
        laid.append(arrangement)
        pointers.append(found[0][None] + sum(len(runs) for runs in every_run))
        every_run.append(found[1])
        every_face.append(found[2])
        size.append(outer_size(arrangement) if arrangement else Size(1, 1, 1, 1))
        fills.append(is_one_strip(arrangement))
    return Ground(
        board,
        np.concatenate(pointers).astype(np.int32),
        np.concatenate(every_run),
        np.concatenate(every_face),
        np.array([s.length for s in size], np.int32),
        np.array([s.width for s in size], np.int32),
        np.array([s.deep for s in size], np.int32),
        np.array([s.pitch for s in size], np.int64),
        np.array(fills, np.bool_),
        tuple(laid),
        clear.x0,
        clear.x1,
        clear.y0,
    )


Runs = tuple[Ints, Ints, NDArray[np.int8]]


class Clear:
    """Finds the clear intervals of parts and sets on one board; remembers the blocked rows."""

    def __init__(
        self, board: Board, types: Types, shop: Shop, taken: tuple[tuple[float, float], ...] = ()
    ) -> None:
        left, low, right, high = frame_of(board)
        self.board, self.types, self.shop, self.taken = board, types, shop, taken
        self.x0, self.x1 = math.floor(left * 10), math.ceil(right * 10)
        self.y0 = _first_row(board, low, types.row, shop)
        self.rows = max(1, math.ceil((high * 10 - self.y0) / types.row))
        self._tables: dict[object, tuple[Ints, Ints]] = {}

    def of_parts(self, parts: Sequence[Part], only: Collection[int] | None = None) -> Runs:
        """Return pointers (T, rows + 1), intervals and show faces of all parts not turned.

        ``only``: leave out all others.
        """
        pointers = np.zeros((len(parts), self.rows + 1), np.int32)
        every_run = [np.zeros((0, 2), np.int32)]
        every_face = [np.zeros(0, np.int8)]
        alike: dict[object, list[int]] = defaultdict(list)
        for t, part in enumerate(parts):
            if only is not None and t not in only:
                continue
            is_upright = is_upright_rectangle(self.board, part)
            if is_upright and refusal_of(self.board, part, self.shop) is None:
                alike[need_of(self.board, part)].append(t)
        n = 0
        for group in alike.values():
            pointer, runs, faces = self._of_alike([parts[t] for t in group])
            pointers[group] = pointer + n
            n += len(runs)
            every_run.append(runs)
            every_face.append(faces)
        return pointers, np.concatenate(every_run), np.concatenate(every_face)

    def _of_alike(self, parts: Sequence[Part]) -> Runs:
        """Return the same of parts that ask the same of the wood."""
        if parts[0].faces is Faces.SHOW:
            found: Runs = kernels_ground.either(*self._runs(parts, 1), *self._runs(parts, 2))
            return found
        pointer, runs = self._runs(parts, None)
        for edge in self._edges(parts)[1:]:
            pointer, runs, _ = kernels_ground.either(pointer, runs, *self._runs(parts, None, edge))
        return pointer, runs, np.zeros(len(runs), np.int8)

    def of_arrangement(
        self, arrangement: Arrangement, within_mm: tuple[float, float] = ANYWHERE_MM
    ) -> Runs:
        """Return the same of a whole set, in a stretch of the board.

        Its members that show a face all show the same one, and those that carry wane all carry it
        on the same edge.
        """
        refused = any(refusal_of(self.board, m.part, self.shop) is not None for m in arrangement)
        if not arrangement or refused:
            nothing = np.zeros(self.rows + 1, np.int32)
            return nothing, np.zeros((0, 2), np.int32), np.zeros(0, np.int8)
        if any(m.part.faces is Faces.SHOW for m in arrangement):
            pointer, runs = self._of_either_edge(arrangement, 1, within_mm)
            other, other_runs = self._of_either_edge(arrangement, 2, within_mm)
            both, runs, faces = kernels_ground.either(pointer[None], runs, other[None], other_runs)
            return both[0], runs, faces
        pointer, runs = self._of_either_edge(arrangement, None, within_mm)
        return pointer, runs, np.zeros(len(runs), np.int8)

    def _edges(self, parts: Iterable[Part]) -> range:
        """Return a number for each long edge on which these parts may carry wane; one for any."""
        hidden = [part for part in parts if part.faces is Faces.HIDDEN]
        zones = (known_zones(self.board, part, self.shop, None) for part in hidden)
        return range(max((len(on_one_edge(one)) for one in zones), default=1))

    def _runs(
        self,
        parts: Sequence[Part],
        show_face: int | None,
        edge: int = 0,
        sizes: Sequence[Size] = (),
    ) -> tuple[Ints, Ints]:
        """Return pointers (T, rows + 1) and intervals of parts alike, shown on this face.

        ``edge``: which of `_edges` may carry wane.
        """
        row = self.types.row
        need = (need_of(self.board, parts[0]), show_face, edge)
        if need not in self._tables:
            ways = on_one_edge(known_zones(self.board, parts[0], self.shop, show_face))
            zones = ways[min(edge, len(ways) - 1)]
            self._tables[need] = row_tables(zones, self.y0, row, self.rows, self.taken)
        sizes = sizes or [self.types.sizes[part.name] for part in parts]
        found: tuple[Ints, Ints] = kernels_ground.clear_runs_of_all(
            *self._tables[need],
            np.stack([part_windows(size.width, row, size.deep) for size in sizes]),
            np.array([size.deep for size in sizes], np.int64),
            self.x0,
            self.x1,
            np.array([size.length for size in sizes], np.int64),
        )
        return found

    def _of_either_edge(
        self, arrangement: Arrangement, show_face: int | None, within_mm: tuple[float, float]
    ) -> tuple[Ints, Ints]:
        """Return where a set may lie, whichever edge of its members carries wane."""
        pointer, runs = self._of_all(arrangement, show_face, within_mm, 0)
        for edge in self._edges(member.part for member in arrangement)[1:]:
            other, other_runs = self._of_all(arrangement, show_face, within_mm, edge)
            both, runs, _ = kernels_ground.either(pointer[None], runs, other[None], other_runs)
            pointer = both[0]
        return pointer, runs

    def _of_all(
        self,
        arrangement: Arrangement,
        show_face: int | None,
        within_mm: tuple[float, float],
        edge: int,
    ) -> tuple[Ints, Ints]:
        """Intersect where each member lets the whole set start."""
        # Anywhere at first: the first member need not lie in the arrangement's own corner.
        pointer = np.arange(self.rows + 1, dtype=np.int32)
        length = outer_size(arrangement).length
        first = math.ceil(max(self.x0, within_mm[0] * 10))
        last = math.floor(min(self.x1, within_mm[1] * 10 - length))
        starts = np.repeat(np.array([[first, last]], np.int32), self.rows, axis=0)
        for member in arrangement:
            pointer, starts = kernels_ground.common_starts(
                pointer, starts, *self._starts(member, show_face, edge), member.x, member.row
            )
        starts[:, 1] += length
        return pointer, starts

    def _starts(self, member: Member, show_face: int | None, edge: int) -> tuple[Ints, Ints]:
        face = show_face if member.part.faces is Faces.SHOW else None
        pointer, runs = self._runs([member.part], face, edge, [member.size])
        starts = runs.copy()
        starts[:, 1] -= member.size.length
        return pointer[0], starts


def _lay_set(clear: Clear, one: MatchedSet, types: Types, shop: Shop) -> tuple[Arrangement, Runs]:
    """Return how a set lies on a board, the best liked way that fits, and where it may."""
    runs: Runs = clear.of_arrangement(())
    deep = slices_deep(clear.board, one, shop)
    exact = shop.cut_class == "three_stage"
    for arrangement in arrangements(one, types.sizes, types.kerf, exact, deep):
        runs = clear.of_arrangement(arrangement, one.within_mm)
        if len(runs[1]):
            return arrangement, runs
    return (), runs


def _first_row(board: Board, low: float, row: int, shop: Shop) -> int:
    """Return where the first row begins, tenths.

    A row begins where the flat faces' clear wood begins, so that nothing is lost there on a
    straight board; the rows below it are for hidden parts that reach into wane.
    """
    outline = max(face.outline.bounds[1] for face in board.faces.values())
    clear = tenths_up(outline + margin_mm(board.outline_u_mm, 0.0, 0.0, shop))
    return clear - math.ceil(max(0.0, clear - low * 10 - 0.5) / row) * row
