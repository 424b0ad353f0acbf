"""Ground that a part surely may not take, rounded to the side that allows more: for the bounds.

Zones are drawn smaller by what the validator tolerates and by the margin's uncertainty; a row
counts as covered by a part only where it is, wherever in its own row the part begins.
"""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import Board
from scanner.placement.ground.row_tables import row_tables
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.parts import Part
from scanner.placement.rules import zones_of
from scanner.placement.rules.flaws import ARRIS_RIM_MM, WANE_ALLOWED_MM
from scanner.placement.rules.ground import Zone
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Ints

# The validator lets parts be this much nearer than they should (0.05 to 0.06 mm, and 1 mm at the
# end trim); zones are drawn that much smaller.
_TOLERANCE_MM = 0.1
_TRIM_TOLERANCE_MM = 1.1
KERF_TOLERANCE_MM = 0.05


def smaller_zones(
    board: Board,
    part: Part,
    shop: Shop,
    show_face: int | None,
    tolerance_mm: float = _TOLERANCE_MM,
) -> tuple[Zone, ...]:
    """Return the ground that a part surely may not take: rounded corners, the least margin.

    tolerance_mm: by how much zones are drawn smaller yet.
    """
    bare = replace(
        board,
        outline_u_mm=0.0,
        faces={n: replace(face, u_scale=0.0) for n, face in board.faces.items()},
        flaws=tuple(replace(flaw, u_mm=0.0) for flaw in board.flaws),
    )
    least_u = min([board.outline_u_mm, *(flaw.u_mm for flaw in board.flaws)])
    margin = least_u + shop.sawing_tolerance_mm - tolerance_mm
    found = []
    for zone in zones_of(bare, part, replace(shop, sawing_tolerance_mm=0.0), show_face):
        is_trim = zone.name.startswith("the end trim")
        ground = zone.ground.buffer(-_TRIM_TOLERANCE_MM if is_trim else margin)
        if not ground.is_empty:
            found.append(replace(zone, ground=ground))
    return tuple(found)


def relaxed_tables(zones: tuple[Zone, ...], y0: int, row: int, rows: int) -> tuple[Ints, Ints]:
    """Return the blocked rows; none where a row has no room left for all its intervals."""
    table, count = row_tables(zones, y0, row, rows, (), hair_mm=0.0)
    return (table, np.zeros_like(count)) if np.any(count >= table.shape[3]) else (table, count)


def inner_windows(width: float, row: int, finer: int = 1) -> NDArray[np.int64]:
    """Return for each kind of zone the rows that a part surely covers, wherever in its first row.

    width, row: tenths, or what is so many times finer.

    Zones were drawn smaller already; rows that the part covers only in part do not count. Wane may
    enter a hidden part from either edge for the validator: only the rows between count.
    """
    rim, wane = ARRIS_RIM_MM * 10 * finer, WANE_ALLOWED_MM * 10 * finer
    last = math.floor(width / row)
    between = (math.ceil(wane / row) + 1, math.floor((width - wane) / row))
    return np.array(
        [
            [0, 1, last],
            [1, *between],
            [2, *between],
            [3, 1, min(last, math.floor(rim / row))],
            [3, max(1, math.ceil((width - rim) / row) + 1), last],
        ],
        np.int64,
    )


def relaxed_starts(
    tables: tuple[Ints, Ints],
    length: float,
    width: float,
    row: int,
    x0: int,
    x1: int,
    finer: int = 1,
) -> tuple[Ints, Ints]:
    """Return where a part may begin, row by row: pointers and first and last places, tenths.

    tables: as ``relaxed_tables`` gives them for rows of ``row`` tenths; length, width: tenths; all
    of them, and the answer, so many times finer.
    """
    whole = math.floor(length)
    # Zones are rounded outwards to whole tenths: intervals may lack one at each end.
    pointer, starts = kernels_ground.clear_runs(
        *tables, inner_windows(width, row, finer), max(1, math.floor(width / row)), x0, x1,
        whole - 2,
    )  # fmt: skip
    starts = starts.copy()
    starts[:, 0] -= 1
    starts[:, 1] -= whole - 1
    return pointer, starts
