"""What one board can give at most, for any placement whatever: the bar relaxation.

Every line along a board crosses parts that lie one after another in its clear stretches, and so
does every line across. A part counts on each line that crosses it with its share; the best line
of each height (or place) by a knapsack in one dimension, summed up, is more than any placement
gives (bar relaxation: G. Scheithauer, "LP-based bounds for the container and multi-container
loading problem", International Transactions in Operational Research 6 (1999)). It sees flaws,
lengths and widths, where a bound from clear area sees area alone.

All rounding is to the side that allows more: cells hold every place that some placement the
validator passes could have.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import Board
from scanner.placement.ground.relaxed_ground import (
    KERF_TOLERANCE_MM,
    inner_windows,
    relaxed_tables,
    smaller_zones,
)
from scanner.placement.kernels import bars as kernels_bars
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.parts import Part, show_faces
from scanner.placement.rules import need_of, refusal_of
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Floats, Ints, rough_size_mm

Truths = NDArray[np.bool_]
# Fine rows to see zones, tenths; bars are taken this many rows apart.
_ROW = 10


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """All bars of one board in one direction, alike ones once.

    Attributes
    ----------
    may, many
        (K, N, T) where a type may begin on each kind of bar, and (K,) the bars of a kind.
    long
        Cells from one part to the next at least, (T,).
    share
        What one crossing counts of a copy: bar thickness over size with kerf, (T,).
    """

    may: Truths
    many: Floats
    long: NDArray[np.int64]
    share: Floats

    def most(self, price: Floats) -> tuple[float, Floats]:
        """Return the most value at a price a copy, and how many copies that takes, (T,)."""
        counts = np.zeros(len(price))
        total = kernels_bars.best_bars(
            self.may, self.many, self.long, np.maximum(price, 0.0) * self.share, counts
        )
        return float(total), counts * self.share

    @property
    def work(self) -> int:
        """How many steps one evaluation takes."""
        return int(self.may.size)


def lines_of(
    board: Board, parts: Sequence[Part], shop: Shop, cell: int, rows_a_bar: int
) -> tuple[Lines, Lines]:
    """Return the bars along and across a board; ``cell``: tenths along, rows a bar across."""
    left, low, right, high = frame_of(board)
    # A cell more on each side holds what rounding moves out.
    x0, x1 = math.floor(left * 10) - cell, math.ceil(right * 10) + cell
    y0 = math.floor(low * 10) - _ROW
    rows = math.ceil((high * 10 - y0) / _ROW) + 1
    shape = (-(-rows // rows_a_bar), (x1 - x0) // cell + 1)
    kerf = max(0.0, shop.kerf_mm - KERF_TOLERANCE_MM) * 10
    tables: dict[object, tuple[Ints, Ints]] = {}
    along, across, sizes = [], [], []
    for part in parts:
        length, width = (size * 10 for size in rough_size_mm(part, shop))
        sizes.append((length, width))
        starts = np.zeros(shape, np.bool_)
        if refusal_of(board, part, shop) is None:
            for show in show_faces(part):
                need = (need_of(board, part), show)
                if need not in tables:
                    zones = smaller_zones(board, part, shop, show)
                    tables[need] = relaxed_tables(zones, y0, _ROW, rows)
                _mark(starts, tables[need], width, math.floor(length), (x0, x1, cell, rows_a_bar))
        wide = math.ceil((width + kerf) / _ROW / rows_a_bar)
        longer = math.ceil((length + kerf) / cell)
        along.append(kernels_bars.spread_along(starts, wide))
        across.append(kernels_bars.spread_along(starts.T.copy(), longer))
    thick = rows_a_bar * _ROW
    return (
        _lines(along, [(length + kerf) / cell for length, _ in sizes],
               [thick / (width + kerf) for _, width in sizes]),
        _lines(across, [(width + kerf) / thick for _, width in sizes],
               [cell / (length + kerf) for length, _ in sizes]),
    )  # fmt: skip


def _lines(starts: Sequence[Truths], long: Sequence[float], share: Sequence[float]) -> Lines:
    """Gather bars of all types; alike ones are kept once."""
    count = max(lines.shape[0] for lines in starts)
    every = np.zeros((count, starts[0].shape[1], len(starts)), np.bool_)
    for t, lines in enumerate(starts):
        every[: lines.shape[0], :, t] = lines
    alike: dict[bytes, list[int]] = {}
    for n, bits in enumerate(np.packbits(every.reshape(count, -1), axis=1)):
        alike.setdefault(bits.tobytes(), []).append(n)
    return Lines(
        every[[same[0] for same in alike.values()]],
        np.array([len(same) for same in alike.values()], np.float64),
        np.array([max(1, math.floor(size + 1e-9)) for size in long], np.int64),
        np.array(share),
    )


def _mark(
    starts: Truths,
    tables: tuple[Ints, Ints],
    width: float,
    length: int,
    grid: tuple[int, int, int, int],
) -> None:
    """Mark the cells in which a part may begin, its lowest row and its left end."""
    x0, x1, cell, rows_a_bar = grid
    windows = inner_windows(width, _ROW)
    deep = max(1, math.floor(width / _ROW))
    # Zones are rounded outwards to whole tenths, so intervals may lack one at each end.
    pointer, runs = kernels_ground.clear_runs(*tables, windows, deep, x0, x1, length - 2)
    found = runs.copy()
    found[:, 0] -= 1
    found[:, 1] -= length - 1
    kernels_bars.fill_starts(pointer, found, rows_a_bar, cell, x0, starts)
