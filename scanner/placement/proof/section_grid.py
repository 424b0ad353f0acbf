"""What one board can give at most in a cut class: exact pricing on rounded ground.

Crosscut, rip, crosscut, on cells along and rows across. Places and sizes are rounded down, a cell
counts as clear for a part where some place in it might be, and the validator's tolerances are
given away; so each layout that the class allows is one of those that are counted here, wherever
its parts lie. How often a part may lie on one board is left to its price (`SectionGrid.most`), or
kept to what is wanted where all that is worth enough is listed (`SectionGrid.near_best`).

In the class that allows narrower parts in a strip the strips come in heights: one that is between
two of them takes the rows of the lower and has the room of the higher.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import Board
from scanner.placement.ground.relaxed_ground import (
    KERF_TOLERANCE_MM,
    relaxed_starts,
    relaxed_tables,
    smaller_zones,
)
from scanner.placement.kernels import near_best as kernels_near
from scanner.placement.kernels import sections as kernels
from scanner.placement.kernels.near_best import KeyFields
from scanner.placement.kernels.sections import SectionTables, Strips
from scanner.placement.parts import Part, show_faces
from scanner.placement.rules import need_of, refusal_of
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Floats, Ints, rough_size_mm, tenths_up

Masks = NDArray[np.uint32]
_BITS = 32
_BITS_OF_A_KEY = 62
# What is clear is seen on rows so many times as thin: a part that does not fit by half a millimetre
# is kept out, though strips are stacked on whole rows.
_THIN = 5
# Heights of strips that hold narrower parts are no farther apart than this, tenths.
_HEIGHT_STEP = 120
# The most at some prices, where its sections begin, and what was found of all sections.
_Priced = tuple[float, NDArray[np.int64], SectionTables]
_NO_TABLES = SectionTables(np.zeros(1, np.int64), np.zeros((1, 1), np.float32), np.zeros(1))
# Steps that the listing of one board's patterns takes at most: about a second, three on fine cells.
_MOST_WORK = 200_000_000
LONG_WORK = 600_000_000
# Of tables up to so many bytes the last few of a board are kept.
_MOST_KEPT, _MOST_KEPT_BYTES = 6, 1_000_000
# Strips are summed up in single precision: some ten parts, each rounded by 6e-8 of the sum.
_ROUNDING = 1 + 2e-6


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """The board on cells of one size, tenths: cells, rows, mask as the kernels read it.

    x0: where the first cell begins.
    """

    cell: int
    row: int
    mask: Masks
    top: int
    x0: int


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """A stretch of a board, tenths, and the copies of each part that lie in it, (T,)."""

    begin: int
    end: int
    counts: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Fields:
    """Copies of all parts in one whole number: fields of bits, each just long enough.

    unit: a copy of each part, (T,), 0 for those left out; where there are more copies than wanted
    a number and ``pad`` carry out of a bit of ``guard``, the highest of each field.
    """

    unit: NDArray[np.int64]
    bits: NDArray[np.int64]
    pad: int
    guard: int

    @classmethod
    def of(cls, wanted: Floats, is_in: NDArray[np.bool_]) -> "_Fields | None":
        """Return the fields; None where one number is too short for them."""
        bits = np.array([int(n).bit_length() for n in wanted]) * is_in
        if bits.sum() > _BITS_OF_A_KEY:
            return None
        unit = np.where(is_in, 1 << (np.cumsum(bits) - bits), 0)
        own = [
            (int(u), 1 << int(b), int(n)) for u, b, n in zip(unit, bits, wanted, strict=True) if u
        ]
        return cls(
            unit, bits, sum(u * (full - 1 - n) for u, full, n in own),
            sum(u * full // 2 for u, full, _ in own),
        )  # fmt: skip

    def counts(self, keys: NDArray[np.int64]) -> Floats:
        """Return the copies of each part, (K, T)."""
        unit = np.maximum(self.unit, 1)
        return (keys[:, None] // unit % (1 << self.bits) * (self.unit > 0)).astype(np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class SectionGrid:
    """One board for all parts, on several levels, the coarsest first.

    Attributes
    ----------
    lengths
        Of each part with its kerf, tenths, (T,).
    heights
        Of the groups of strips with their kerf, tenths, (C,).
    entry_ptr, entry_part, entry_plane
        Parts of each group, as the kernels read them.
    """

    levels: tuple[Level, ...]
    lengths: Floats
    heights: Floats
    entry_ptr: NDArray[np.int64]
    entry_part: NDArray[np.int64]
    entry_plane: NDArray[np.int64]
    _kept: dict[tuple[int, bytes], tuple[float, _Priced]] = field(default_factory=dict)

    def most(self, price: Floats, share: float, deep: int) -> tuple[float, float, Floats]:
        """Return what no layout of this board is worth more than, and what it would hold.

        price: of a copy, (T,); those at or below 0 are left out. share: how far the answer is
        thought to lie below that of the coarsest level; a good guess saves time and changes
        nothing. deep: how many levels to go through. Also returns the true share.
        """
        ptr, part, plane = self._priced(price)
        if ptr[-1] == 0:
            return 0.0, 1.0, np.zeros(len(price))
        rough = 0.0
        while True:
            worth, tables = 0.0, _NO_TABLES
            for n in range(deep):
                strips = self._strips(n, ptr, part, plane, price)
                least = share * rough * (1 - 1e-5)
                worth, begin, tables = self._sections(n, strips, part, tables, least)
                rough = worth if n == 0 else rough
                if n and worth < share * rough:
                    break
            else:
                counts = np.zeros(len(price))
                kernels.counts_between(strips, part, begin, counts)
                return worth * _ROUNDING, worth / rough if rough else 1.0, counts
            share = share - 0.02 if share > 0.85 else 0.0

    def near_best(
        self,
        price: Floats,
        wanted: Floats,
        least: float,
        deep: int,
        most: int,
        work: int = _MOST_WORK,
    ) -> Floats | None:
        """Return all that a layout of this board may hold, (P, T), and be worth ``least`` or more.

        No part is in it more often than wanted; parts without a price are left out. deep: how many
        levels to go through. None where there are too many to list: ``most``, or more on the way,
        or more steps of ``work``.
        """
        found = self._near_best(price, wanted, least, deep, most, work)
        if found is None:
            return None
        fields, keys, _, _ = found
        return fields.counts(keys)

    def sections_of(self, price: Floats, counts: Floats, most: int) -> list[Section] | None:
        """Return how a layout of this board may hold so many copies, (T,), section by section.

        Empty where none may; None where there are too many ways to list.
        """
        least = float(price @ counts) * (1 - 1e-6)
        found = self._near_best(price, counts, least, len(self.levels), most)
        if found is None:
            return None
        fields, _, keys, ways = found
        level, sections = self.levels[-1], list[Section]()
        at = int(np.argmax(ways[:, 3])) if np.any(ways[:, 3] == 1) else 0
        while at > 0:
            before, begin, end = (int(n) for n in ways[at, :3])
            held = fields.counts(keys[at : at + 1] - keys[before])[0]
            first, behind = (level.x0 + n * level.cell for n in (begin, end))
            sections.append(Section(first, behind, held))
            at = before
        return sections[::-1]

    def _near_best(
        self,
        price: Floats,
        wanted: Floats,
        least: float,
        deep: int,
        most: int,
        work: int = _MOST_WORK,
    ) -> "tuple[_Fields, NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]] | None":
        """Return the fields of keys, the keys, all on the way, and how these came to be."""
        price = np.where(wanted > 0, price, 0.0)
        ptr, part, plane = self._priced(price)
        fields = _Fields.of(wanted, price > 0)
        if fields is None:
            return None
        tables = _NO_TABLES
        for n in range(deep):
            strips = self._strips(n, ptr, part, plane, price)
            _, _, tables = self._sections(n, strips, part, tables, least * (1 - 1e-5))
        keys, every, ways, is_all = kernels_near.near_best(
            strips._replace(value=price[part]),
            KeyFields(fields.unit[part], fields.pad, fields.guard),
            tables,
            least,
            most,
            work,
        )
        return (fields, keys, every, ways) if is_all else None

    def _strips(
        self,
        n: int,
        ptr: NDArray[np.int64],
        part: NDArray[np.int64],
        plane: NDArray[np.int64],
        price: Floats,
    ) -> Strips:
        level = self.levels[n]
        long = np.floor(self.lengths[part] / level.cell + 1e-9).astype(np.int64)
        pitch = np.floor(self.heights / level.row + 1e-9).astype(np.int64)
        value = price[part].astype(np.float32)
        return Strips(level.mask, ptr, long, plane, part % _BITS, value, pitch)

    def _sections(
        self, n: int, strips: Strips, part: NDArray[np.int64], tables: SectionTables, least: float
    ) -> _Priced:
        """Return the best row of sections on a level; ``tables``: of the level before.

        What was told at these prices for no more than ``least`` is told again: it holds all that
        is of interest now.
        """
        key = n, part.tobytes() + strips.value.tobytes()
        told, known = self._kept.pop(key, (float("inf"), None))
        if known is None or told > least:
            ratio = self.levels[n - 1].cell // self.levels[n].cell if n else 0
            known = kernels.best_sections(strips, self.levels[n].top, ratio, tables, least)
            # The coarsest level leaves nothing out.
            told = least if n else 0.0
        if known[2].worth.nbytes <= _MOST_KEPT_BYTES:
            self._kept[key] = told, known
            while len(self._kept) > _MOST_KEPT:
                del self._kept[next(iter(self._kept))]
        return known

    def _priced(
        self, price: Floats
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """Return the entries of the parts that have a price."""
        kept = price[self.entry_part] > 0
        ptr = np.concatenate(([0], np.cumsum(kept)))[self.entry_ptr]
        return ptr, self.entry_part[kept], self.entry_plane[kept]


def section_grid(
    board: Board, parts: Sequence[Part], shop: Shop, cell: int, row: int, coarse: Sequence[int]
) -> SectionGrid:
    """Return a board's levels: the finest of ``cell`` by ``row`` tenths, others so many times."""
    left, low, right, high = frame_of(board)
    # A cell more on each side holds what rounding moves out.
    x0, x1 = math.floor(left * 10) - cell, math.ceil(right * 10) + cell
    y0 = math.floor(low * 10) - row
    rows = math.ceil((high * 10 - y0) / row) + 1
    thin = row // _THIN
    kerf = max(0.0, shop.kerf_mm - KERF_TOLERANCE_MM) * 10
    sizes = [tuple(size * 10 for size in rough_size_mm(part, shop)) for part in parts]
    planes = -(-len(parts) // _BITS)
    mask = np.zeros((planes, (x1 - x0) // cell + 1, rows), np.uint32)
    tables: dict[object, tuple[Ints, Ints]] = {}
    for t, (part, (length, width)) in enumerate(zip(parts, sizes, strict=True)):
        if refusal_of(board, part, shop) is not None:
            continue
        for show in show_faces(part):
            need = (need_of(board, part), show)
            if need not in tables:
                zones = smaller_zones(board, part, shop, show)
                tables[need] = relaxed_tables(zones, y0, thin, rows * _THIN)
            pointer, starts = relaxed_starts(tables[need], length, width, thin, x0, x1)
            kernels.fill_mask(pointer, starts, _THIN, cell, x0, t % _BITS, mask[t // _BITS])
    widths = np.array([width for _, width in sizes])
    if shop.cut_class == "three_stage":
        heights, groups = _by_width(widths)
        own = np.zeros(len(heights), np.int64)
    else:
        heights, groups, mask = _by_height(widths, mask, row, (high - low) * 10)
        own = np.arange(len(heights)) * planes
    part_of = np.array([t for group in groups for t in group], np.int64)
    counts = [len(group) for group in groups]
    finest = Level(cell, row, mask, int((x1 - x0 + kerf) // cell), x0)
    levels = [
        Level(
            cell * n, row * m, kernels.coarser(mask, n, m), int((x1 - x0 + kerf) // (cell * n)), x0
        )
        for n, m in ((n, 2 if n >= 8 else 1) for n in coarse)
    ]
    return SectionGrid(
        (*levels, finest),
        np.array([length for length, _ in sizes]) + kerf,
        heights + kerf,
        np.concatenate(([0], np.cumsum(counts))).astype(np.int64),
        part_of,
        np.repeat(own, counts) + part_of // _BITS,
    )


def planes_of(parts: int, widths: Collection[float], across_mm: float, shop: Shop) -> int:
    """Return how many masks a board needs for so many parts of these widths, mm."""
    groups = 1
    if shop.cut_class != "three_stage":
        groups = len(heights_of(np.array(sorted(widths)) * 10, across_mm * 10))
    return groups * -(-parts // _BITS)


def heights_of(widths: Floats, across: float) -> list[float]:
    """Return the heights of strips that hold narrower parts, tenths."""
    heights: list[float] = []
    for width in np.unique(widths):
        while heights and width - heights[-1] > _HEIGHT_STEP:
            heights.append(heights[-1] + _HEIGHT_STEP)
        heights.append(float(width))
    while heights[-1] + _HEIGHT_STEP < across:
        heights.append(heights[-1] + _HEIGHT_STEP)
    return heights


def _by_width(widths: Floats) -> tuple[Floats, list[list[int]]]:
    """Return strips that hold parts as wide as themselves, the narrowest of each for its height.

    Parts share a strip where the search lets them: where they are as wide in whole tenths.
    """
    whole = np.array([tenths_up(width / 10) for width in widths])
    groups = [np.flatnonzero(whole == h) for h in np.unique(whole)]
    heights = np.array([float(np.min(widths[group])) for group in groups])
    return heights, [[int(t) for t in group] for group in groups]


def _by_height(
    widths: Floats, mask: Masks, row: int, across: float
) -> tuple[Floats, list[list[int]], Masks]:
    """Return strips of any height, which hold all parts that are no wider, anywhere across."""
    heights = heights_of(widths, across)
    # The next height is not reached: the widest room in a group is just below it.
    above = [*heights[1:], max(across, heights[-1]) + row]
    drift = [math.ceil((height - heights[0]) / row) for height in above]
    groups, masks = [], []
    so_far = np.zeros_like(mask)
    for n, height in enumerate(heights):
        new = np.zeros_like(mask)
        for t in np.flatnonzero(np.abs(widths - height) < 1e-6):
            plane, bit = divmod(int(t), _BITS)
            new[plane] |= mask[plane] & np.uint32(1 << bit)
        groups.append([int(t) for t in np.flatnonzero(widths <= height + 1e-6)])
        # Two rows more: places lie anywhere in their row, and the drifts are rounded.
        so_far |= kernels.drifted(new, 2)
        so_far = kernels.drifted(so_far, drift[n] - (drift[n - 1] if n else 0))
        masks.append(so_far)
    return np.array(heights), groups, np.concatenate(masks)
