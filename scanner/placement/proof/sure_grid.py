"""What a board surely can give: the ground of the search on cells, all rounded to the safe side.

The bound's grids count all that may lie somewhere; here only what does lie counts: parts begin on
the border of a cell and of a row, and reach to the next one behind their kerf.
"""

import math

import numpy as np

from scanner.placement.choosing.problem import Problem
from scanner.placement.kernels import sections as kernels
from scanner.placement.proof.section_grid import Level, SectionGrid
from scanner.placement.wanted.items import Floats

# Tenths along, rows of the problem across, and how many times as long the coarser cells are.
_CELL, _ROWS, _COARSE = 10, 2, (16, 4)
_BITS = 32


def sure_grid(problem: Problem, board: int, parts: list[int]) -> SectionGrid:
    """Return a board's levels for some of a problem's parts; numbers of parts are those of it."""
    ground, types = problem.grounds[board], problem.types
    row = types.row * _ROWS
    rows = -(-ground.rows // _ROWS)
    cells = math.ceil((ground.x1 - ground.x0 + types.kerf) / _CELL) + 1
    mask = np.zeros((-(-len(parts) // _BITS), cells, rows), np.uint32)
    for n, t in enumerate(parts):
        length = int(ground.length[t])
        for r in range(rows):
            for begin, end in ground.runs_of(t, r * _ROWS):
                first = -(-(int(begin) - ground.x0) // _CELL)
                last = (int(end) - length - ground.x0) // _CELL
                # Never past the front: a run shorter than the part gives no cell.
                mask[n // _BITS, first : max(first, last + 1), r] |= np.uint32(1 << n % _BITS)
    pitch = ground.pitch[parts]
    heights = np.unique(pitch)
    groups = [np.flatnonzero(pitch == height) for height in heights]
    part_of = np.concatenate(groups).astype(np.int64)
    levels = [
        Level(_CELL * n, row * m, kernels.coarser(mask, n, m), cells // n + 1, ground.x0)
        for n, m in ((n, 2 if n >= 8 else 1) for n in _COARSE)
    ]
    return SectionGrid(
        (*levels, Level(_CELL, row, mask, cells, ground.x0)),
        _up(ground.length[parts].astype(np.float64) + types.kerf, _CELL),
        _up(heights.astype(np.float64) * types.row, row),
        np.concatenate(([0], np.cumsum([len(group) for group in groups]))).astype(np.int64),
        part_of,
        part_of // _BITS,
    )


def _up(sizes: Floats, step: int) -> Floats:
    return np.ceil(sizes / step - 1e-9) * step
