"""What one board can give at most in a cut class: exact pricing on rounded ground.

Crosscut, rip, crosscut, on cells along and rows across. Places and sizes are rounded down, a cell
counts as clear for a part where some place in it might be, and the validator's tolerances are
given away; so each layout that the class allows is one of those that are counted here, wherever
its parts lie. How often a part may lie on one board is left to its price.

In the class that allows narrower parts in a strip the strips come in heights: one that is between
two of them takes the rows of the lower and has the room of the higher.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import Board
from scanner.placement.items import Floats, Ints, rough_size_mm
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.kernels import sections as kernels
from scanner.placement.parts import Faces, Part
from scanner.placement.relaxed_ground import (
    KERF_TOLERANCE_MM,
    inner_windows,
    relaxed_tables,
    smaller_zones,
)
from scanner.placement.rules import need_of, refusal_of
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop

Masks = NDArray[np.uint32]
_BITS = 32
# What is clear is seen on rows so many times as thin: a part that does not fit by half a millimetre
# is kept out, though strips are stacked on whole rows.
_THIN = 5
# Heights of strips that hold narrower parts are no farther apart than this, tenths.
_HEIGHT_STEP = 120
_NO_ROW = np.zeros(1, np.int64)
_NO_TABLE = np.zeros((1, 1), np.float32)
_NO_WORTH = np.zeros(1)
# Strips are summed up in single precision: some ten parts, each rounded by 6e-8 of the sum.
_ROUNDING = 1 + 2e-6


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """The board on cells of one size: cells and rows, tenths; mask as the kernels read it."""

    cell: int
    row: int
    mask: Masks
    top: int


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

    def most(self, price: Floats, share: float, deep: int) -> tuple[float, float, Floats]:
        """Return what no layout of this board is worth more than, and what it would hold.

        price: of a copy, (T,); those at or below 0 are left out. share: how far the answer is
        thought to lie below that of the coarsest level; a good guess saves time and changes
        nothing. deep: how many levels to go through. Also returns the true share.
        """
        ptr, part, plane = self._priced(price)
        if ptr[-1] == 0:
            return 0.0, 1.0, np.zeros(len(price))
        value = price[part].astype(np.float32)
        levels, rough = self.levels[:deep], 0.0
        while True:
            worth, row, parent, ahead, ratio = 0.0, _NO_ROW, _NO_TABLE, _NO_WORTH, 0
            for n, level in enumerate(levels):
                long = np.floor(self.lengths[part] / level.cell + 1e-9).astype(np.int64)
                pitch = np.floor(self.heights / level.row + 1e-9).astype(np.int64)
                entries = (level.mask, ptr, long, plane, part % _BITS, value, pitch)
                worth, begin, row, parent, ahead = kernels.best_sections(
                    *entries, level.top, ratio, row, parent, ahead, share * rough * (1 - 1e-5)
                )
                rough = worth if n == 0 else rough
                ratio = level.cell // levels[min(n + 1, len(levels) - 1)].cell
                if n and worth < share * rough:
                    break
            else:
                counts = np.zeros(len(price))
                kernels.counts_between(*entries, part, begin, counts)
                return worth * _ROUNDING, worth / rough if rough else 1.0, counts
            share = share - 0.02 if share > 0.85 else 0.0

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
        for show in (1, 2) if part.faces is Faces.SHOW else (None,):
            need = (need_of(board, part), show)
            if need not in tables:
                zones = smaller_zones(board, part, shop, show)
                tables[need] = relaxed_tables(zones, y0, thin, rows * _THIN)
            whole = math.floor(length)
            # Zones are rounded outwards to whole tenths: intervals may lack one at each end.
            pointer, runs = kernels_ground.clear_runs(
                *tables[need], inner_windows(width, thin), max(1, math.floor(width / thin)),
                x0, x1, whole - 2,
            )  # fmt: skip
            starts = runs.copy()
            starts[:, 0] -= 1
            starts[:, 1] -= whole - 1
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
    finest = Level(cell, row, mask, int((x1 - x0 + kerf) // cell))
    levels = [
        Level(cell * n, row * m, kernels.coarser(mask, n, m), int((x1 - x0 + kerf) // (cell * n)))
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
    """Return strips that hold parts as wide as themselves."""
    heights = np.unique(widths)
    return heights, [[int(t) for t in np.flatnonzero(widths == h)] for h in heights]


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
