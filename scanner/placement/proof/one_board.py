"""Whether one board holds so many copies of each part in the exact class, place by place.

Cells of the bound leave up to a row's height of slack at every strip, so that near the limit they
allow what no saw can cut. Here one set of copies is asked for at a time: places along are tenths of
a millimetre, rows across thinner and thinner, and each pass looks only at the sections that the
coarser one before it left open. On relaxed ground a No is a proof; on the search's own ground a Yes
is a layout (`kernels.one_board`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from shapely.affinity import scale
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.placement.choosing.problem import Problem
from scanner.placement.ground.relaxed_ground import (
    KERF_TOLERANCE_MM,
    relaxed_starts,
    relaxed_tables,
    smaller_zones,
)
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.kernels import one_board as kernels
from scanner.placement.parts import Part, show_faces
from scanner.placement.proof.copy_sets import CopySets, copy_sets
from scanner.placement.rules import need_of, refusal_of
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Floats, Ints, rough_size_mm, tenths_up

# Rows of the passes on relaxed ground, tenths, and to within how many tenths ends are sought.
_COARSE = ((80, 200), (8, 10))
# The last pass: so many times finer than a tenth, and by how much limits are overstepped there.
_FINER, _HAIR_MM = 4, 1e-3
# First steps away from what the coarser pass knows of an end, tenths.
_STRIDE, _ANY_STRIDE = 8, 1 << 20
# Sets with more parts than give so many smaller ones are not asked; nor what takes more steps.
_MOST_SETS, _MOST_WORK = 1200, 400_000_000

Longs = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Where copies of some parts may begin on a board, as the kernels read it.

    pointer (T, rows + 1), starts (n, 2) tenths; long (T,) tenths and pitch (T,) rows with the
    kerf; ``x0`` and ``top``: where the first section begins and the last one ends with its kerf.
    """

    pointer: Longs
    starts: Longs
    long: Longs
    pitch: Longs
    x0: int
    top: int


@dataclass(slots=True)
class OneBoard:
    """Asks single boards; remembers their ground and every answer.

    problem: the ground that layouts are made on; None where none are made.
    """

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    problem: Problem | None = None
    _ground: dict[tuple[int, int, int, int], tuple[Longs, Longs]] = field(default_factory=dict)
    _coarsely: dict[tuple[int, bytes], Longs | None] = field(default_factory=dict)
    _may: dict[tuple[int, bytes], bool] = field(default_factory=dict)
    _last_asked: tuple[bytes, CopySets | None] = (b"", None)

    def can_be_asked(self, counts: Floats) -> bool:
        """Whether so many copies of each part, (T,), are few enough."""
        return 1 < float(np.prod(counts + 1)) <= _MOST_SETS

    def askable(self, counts: Floats) -> Floats:
        """Return as many of these copies, (T,), as can be asked; the smallest are left out."""
        least = counts.copy()
        size = [float(np.prod(rough_size_mm(part, self.shop))) for part in self.parts]
        for t in np.argsort(size, kind="stable"):
            while least[t] > 0 and float(np.prod(least + 1)) > _MOST_SETS:
                least[t] -= 1
        return least

    def may_hold(self, board: int, counts: Floats) -> bool:
        """Whether a board may hold so many copies of each part, (T,).

        As far as rows of a tenth of a millimetre tell; True says nothing. Of more than can be asked
        the larger ones are: what does not hold them does not hold all.
        """
        counts = self.askable(counts)
        key = (board, counts.tobytes())
        if key not in self._may:
            self._may[key] = self._may_hold(board, counts)
        return self._may[key]

    def _may_hold(self, board: int, counts: Floats) -> bool:
        known = self._known(board, counts)
        if known is None or not len(known):
            return known is None
        reached, _, _, steps = self._looked_at(board, counts, known, 1, is_any=True)
        return steps < 0 or bool(reached[-1] < kernels.NEVER)

    def may_hold_closest(self, board: int, counts: Floats) -> bool:
        """Whether it may as far as is asked at all, which takes some times as long."""
        counts = self.askable(counts)
        known = self._known(board, counts)
        if known is None or not len(known):
            return known is None
        reached, section, _, steps = self._looked_at(board, counts, known, 1, is_any=False)
        if steps < 0 or reached[-1] >= kernels.NEVER:
            return steps < 0
        sets = self._sets(np.flatnonzero(counts), counts)
        known = kernels.still_known(sets.pair_ptr, sets.pair_set, section, reached)
        known = np.where(known < kernels.NEVER, known * _FINER, kernels.NEVER)
        reached, _, _, steps = self._looked_at(board, counts, known, _FINER, is_any=True)
        return steps < 0 or bool(reached[-1] < kernels.NEVER)

    def _looked_at(
        self, board: int, counts: Floats, known: Longs, finer: int, is_any: bool
    ) -> tuple[Longs, Longs, Longs, int]:
        """Return what ``kernels.first_ends`` does on rows of a tenth, or finer."""
        asked = np.flatnonzero(counts)
        ground, sets = self._relaxed(board, asked, 1, finer), self._sets(asked, counts)
        return _first_ends(ground, sets, known, 1, _STRIDE, is_any)

    def _known(self, board: int, counts: Floats) -> Longs | None:
        """Return which sections coarse rows leave open, none if they refuse; None: not asked."""
        key = (board, counts.tobytes())
        if key not in self._coarsely:
            self._coarsely[key] = self._left_open(board, counts)
        return self._coarsely[key]

    def _left_open(self, board: int, counts: Floats) -> Longs | None:
        asked = np.flatnonzero(counts)
        if not self.can_be_asked(counts):
            return None
        sets = self._sets(asked, counts)
        known = np.zeros(len(sets.pair_set), np.int64)
        for rows, grain in _COARSE:
            ground = self._relaxed(board, asked, rows)
            stride = _STRIDE if rows != _COARSE[0][0] else _ANY_STRIDE
            reached, section, _, steps = _first_ends(ground, sets, known, grain, stride)
            if steps < 0:
                return None
            if reached[-1] >= kernels.NEVER:
                return np.zeros(0, np.int64)
            known = kernels.still_known(sets.pair_ptr, sets.pair_set, section, reached)
        return known

    def places(self, board: int, counts: Floats) -> Ints | None:
        """Return where so many copies, (T,), lie on the search's ground, (n, 7) as in patterns.

        None where it was not found to hold them.
        """
        known = self._known(board, counts)
        if self.problem is None or known is None or not len(known):
            return None
        asked = np.flatnonzero(counts)
        sets, ground = self._sets(asked, counts), self._sure(board, asked)
        reached, _, before, _ = _first_ends(ground, sets, known, 1, _STRIDE, is_any=True)
        if reached[-1] >= kernels.NEVER:
            return None
        return self._laid(ground, sets, reached, before, self._numbers(asked))

    def _sets(self, asked: Longs, counts: Floats) -> CopySets:
        """Return the sets; parts share a strip where the search lets them: in whole tenths."""
        key = counts.tobytes()
        if key != self._last_asked[0]:
            sizes = [rough_size_mm(self.parts[int(t)], self.shop) for t in asked]
            widths = np.array([tenths_up(width) for _, width in sizes])
            self._last_asked = key, copy_sets(widths, counts[asked])
        sets = self._last_asked[1]
        assert sets is not None
        return sets

    def _numbers(self, asked: Longs) -> Longs:
        assert self.problem is not None
        number = {part.name: t for t, part in enumerate(self.problem.types.parts)}
        return np.array([number[self.parts[int(t)].name] for t in asked])

    def _laid(
        self, ground: _Rows, sets: CopySets, reached: Longs, before: Longs, numbers: Longs
    ) -> Ints:
        """Return what lies, section by section from the far end."""
        assert self.problem is not None
        kerf, places, k, section = self.problem.types.kerf, [], len(reached) - 1, 0
        while k > 0:
            j, end = int(before[k]), int(reached[k])
            strips = _strips_of(ground, sets, k - j, int(reached[j]), end)
            for n, strip in enumerate(strips):
                for t, x, row in strip:
                    places.append((numbers[t], x, row, section, n, int(reached[j]), end - kerf))
            k, section = j, section + 1
        return np.array(places, np.int32).reshape(-1, 7)

    def _sure(self, board: int, asked: Longs) -> _Rows:
        """Return the ground on which layouts are made."""
        assert self.problem is not None
        ground, kerf = self.problem.grounds[board], self.problem.types.kerf
        own = self._numbers(asked)
        pointers, starts, n = [], [], 0
        for t in own:
            first = int(ground.pointer[t, 0])
            runs = ground.runs[first : int(ground.pointer[t, -1])].astype(np.int64)
            runs[:, 1] -= int(ground.length[t])
            pointers.append(ground.pointer[t].astype(np.int64) - first + n)
            starts.append(runs)
            n += len(runs)
        return _Rows(
            np.array(pointers), np.concatenate(starts), ground.length[own].astype(np.int64) + kerf,
            ground.pitch[own].astype(np.int64), ground.x0, ground.x1 + kerf,
        )  # fmt: skip

    def _relaxed(self, board: int, asked: Longs, rows: int, finer: int = 1) -> _Rows:
        """Return the ground on which a No is a proof, in rows of so many tenths, or finer."""
        kerf, unit = self.shop.kerf_mm - self._kerf_tolerance_mm(finer), 10 * finer
        sizes = [rough_size_mm(self.parts[int(t)], self.shop) for t in asked]
        left, _, right, _ = frame_of(self.boards[board])
        pointers, starts, n = [], [], 0
        for t in asked:
            pointer, own = self._starts(board, int(t), rows, finer)
            pointers.append(pointer + n)
            starts.append(own)
            n += len(own)
        return _Rows(
            np.array(pointers), np.concatenate(starts),
            np.array([math.floor((length + kerf) * unit + 1e-9) for length, _ in sizes]),
            np.array([math.floor((width + kerf) * unit / rows + 1e-9) for _, width in sizes]),
            math.floor(left * unit) - 2, math.ceil((right + kerf) * unit) + 2,
        )  # fmt: skip

    def _kerf_tolerance_mm(self, finer: int) -> float:
        return min(self.shop.kerf_mm, KERF_TOLERANCE_MM if finer == 1 else _HAIR_MM)

    def _starts(self, board: int, t: int, rows: int, finer: int) -> tuple[Longs, Longs]:
        key = (board, t, rows, finer)
        if key not in self._ground and rows > 1:
            self._ground[key] = kernels.joined_rows(*self._starts(board, t, 1, finer), rows)
        if key not in self._ground:
            for alike, pointer, starts in self._thin_starts(board, t, finer):
                self._ground[board, alike, 1, finer] = pointer, starts
        return self._ground[key]

    def _thin_starts(self, board: int, t: int, finer: int) -> list[tuple[int, Longs, Longs]]:
        """Return where a part, and others that ask the same of the wood, may begin."""
        one, part, unit = self.boards[board], self.parts[t], 10 * finer
        left, low, right, high = frame_of(one)
        x0, x1 = math.floor(left * unit) - 2, math.ceil(right * unit) + 2
        y0 = math.floor(low * unit) - 1
        rows = math.ceil(high * unit - y0) + 1
        if refusal_of(one, part, self.shop) is not None:
            return [(t, np.zeros(rows + 1, np.int64), np.zeros((0, 2), np.int64))]
        need = need_of(one, part)
        alike = [
            u
            for u, other in enumerate(self.parts)
            if refusal_of(one, other, self.shop) is None and need_of(one, other) == need
        ]
        tolerance = () if finer == 1 else (_HAIR_MM,)
        found: list[list[tuple[Ints, Ints]]] = [[] for _ in alike]
        for show in show_faces(part):
            zones = smaller_zones(one, part, self.shop, show, *tolerance)
            zones = tuple(replace(zone, ground=_enlarged(zone.ground, finer)) for zone in zones)
            tables = relaxed_tables(zones, y0, 1, rows)
            for own, u in zip(found, alike, strict=True):
                length, width = (unit * size for size in rough_size_mm(self.parts[u], self.shop))
                own.append(relaxed_starts(tables, length, width, 1, x0, x1, finer))
        return [(u, *_either(own)) for u, own in zip(alike, found, strict=True)]


def _enlarged(ground: BaseGeometry, times: int) -> BaseGeometry:
    return scale(ground, times, times, origin=(0.0, 0.0)) if times > 1 else ground


def _either(found: Sequence[tuple[Ints, Ints]]) -> tuple[Longs, Longs]:
    """Return the intervals of one or two answers together."""
    pointer, starts = found[0]
    if len(found) > 1:
        every, starts, _ = kernels_ground.either(
            pointer[None], starts, found[1][0][None], found[1][1]
        )
        pointer = every[0]
    return pointer.astype(np.int64), starts.astype(np.int64)


def _first_ends(
    ground: _Rows, sets: CopySets, known: Longs, grain: int, stride: int, is_any: bool = False
) -> tuple[Longs, Longs, Longs, int]:
    """Return what ``kernels.first_ends`` does on this ground."""
    size = sets.digits @ (ground.long * ground.pitch)
    longest = np.max(sets.digits.clip(max=1) * ground.long, axis=1)
    # What lies side by side takes no more than all rows, and each part is as long as it is.
    shortest = np.maximum(-(-size // _height(ground)), longest)
    latest = ground.top - shortest[::-1]
    kinds = np.argmax(sets.strip_counts > 0, axis=1)
    found: tuple[Longs, Longs, Longs, int] = kernels.first_ends(
        ground.pointer, ground.starts, ground.long, ground.pitch[kinds], sets.strip_ptr,
        sets.strip_part, sets.strip_before, sets.less, sets.pair_ptr, sets.pair_set, known,
        shortest, latest, ground.x0, ground.top, grain, stride, is_any, _MOST_WORK,
    )  # fmt: skip
    return found


def _height(ground: _Rows) -> int:
    """Return how many rows at most any strips take that lie beside each other."""
    first, behind = ground.pointer.shape[1], 1
    for pointer, pitch in zip(ground.pointer, ground.pitch, strict=True):
        own = np.flatnonzero(np.diff(pointer))
        if len(own):
            first, behind = min(first, int(own[0])), max(behind, int(own[-1] + pitch))
    return int(max(1, behind - first))


def _strips_of(
    ground: _Rows, sets: CopySets, held: int, a: int, end: int
) -> list[list[tuple[int, int, int]]]:
    """Return the strips of a section: part, place along and row of all that lies in each."""
    many, rows = len(sets.strip_counts), ground.pointer.shape[1] - 1
    ends, near = np.zeros((many, rows), np.int64), np.zeros((many, rows), np.int64)
    rows_of = np.zeros(len(sets.less), np.int64)
    alike = kernels.alike_rows(ground.pointer, ground.starts)
    kernels.strip_ends(
        ground.pointer, ground.starts, alike, ground.long, sets.strip_ptr, sets.strip_part,
        sets.strip_before, a, ground.top, ends,
    )  # fmt: skip
    inside = np.flatnonzero(np.all(sets.digits <= sets.digits[held], axis=1))[1:]
    pitch = ground.pitch[np.argmax(sets.strip_counts > 0, axis=1)]
    never = np.full(many, -kernels.NEVER)
    kernels.stacked(ends, pitch, sets.less, inside, end, near, never, rows_of)
    strips = []
    while held > 0:
        for z in range(many):
            before = int(sets.less[held, z])
            if before < 0 or rows_of[before] >= rows:
                continue
            fit = np.flatnonzero(ends[z, rows_of[before] :] <= end)
            row = int(rows_of[before] + fit[0]) if len(fit) else rows
            if row < rows and row + pitch[z] == rows_of[held]:
                strips.append(_along(ground, sets, ends[:, row], z, row))
                held = before
                break
    return strips


def _along(
    ground: _Rows, sets: CopySets, ends: Longs, strip: int, row: int
) -> list[tuple[int, int, int]]:
    """Return part, place along and row of all that lies in a strip, from its end back."""
    places = []
    while strip >= 0:
        for q in range(int(sets.strip_ptr[strip]), int(sets.strip_ptr[strip + 1])):
            t, before = int(sets.strip_part[q]), int(sets.strip_before[q])
            x, first = int(ends[strip] - ground.long[t]), int(ground.pointer[t, row])
            own = ground.starts[first : int(ground.pointer[t, row + 1])]
            begins = before < 0 or ends[before] <= x
            if begins and np.any((own[:, 0] <= x) & (x <= own[:, 1])):
                places.append((t, x, row))
                strip = before
                break
    return places
