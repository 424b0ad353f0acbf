"""What is left over and worth keeping: the largest clear rectangles beside the parts."""

from collections.abc import Sequence

import numpy as np
from shapely.geometry import LineString, box

from scanner.board.board import Board
from scanner.placement.ground.known_zones import known_zones
from scanner.placement.ground.row_tables import row_tables
from scanner.placement.kernels import ground as kernels_ground
from scanner.placement.layout import Cut, Offcut, Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.rules.ground import Zone, frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import tenths_up
from scanner.placement.wanted.turned import sawn_blanks
from scanner.units import MM_PER_INCH

# Kept at 2 in wide (makers in a forum) and 16 in long (a shop in a magazine, which throws away what
# is under 4 x 16 in).
LEAST_WIDTH_MM = 50.0
LEAST_LENGTH_MM = 400.0
# Of broad ones so much counts as 4 x 16 in, down to what the machines take.
LEAST_AREA_MM2 = 4 * 16 * MM_PER_INCH**2
MOST_ON_A_BOARD = 6
_ROW = 10
_STEP_ROWS = 10


def offcuts_of(
    board: Board, placements: Sequence[Placement], shop: Shop, cuts: Sequence[Cut] = ()
) -> tuple[Offcut, ...]:
    """Return the left-overs of a board that are clear on both faces, the largest first.

    No cut goes through them: what is left is what the saw leaves whole.
    """
    left, low, right, high = frame_of(board)
    y0 = int(np.floor(low * 10))
    rows = max(1, int(np.ceil((high * 10 - y0) / _ROW)))
    clear = Part("offcut", 1, LEAST_LENGTH_MM, LEAST_WIDTH_MM, 1.0, Faces.BOTH)
    zones = list(known_zones(board, clear, shop, None))
    for p in sawn_blanks(placements):
        zones.append(_taken(p.x_mm, p.y_mm, p.length_mm, p.width_mm, shop.kerf_mm))
    for cut in cuts:
        line = LineString((cut.from_mm, cut.to_mm))
        zones.append(Zone(line.buffer(shop.kerf_mm / 2, cap_style="square"), "a cut"))
    found: list[Offcut] = []
    while len(found) < MOST_ON_A_BOARD:
        table, count = row_tables(tuple(zones), y0, _ROW, rows, ())
        best = (0, 0, 0, 0)
        for deep in range(round(LEAST_WIDTH_MM * 10 / _ROW), rows + 1, _STEP_ROWS):
            windows = np.array([[0, 0, deep]], np.int64)
            pointer, runs = kernels_ground.clear_runs(
                table, count, windows, deep,
                int(np.floor(left * 10)), int(np.ceil(right * 10)),
                tenths_up(_least_length_mm(deep * _ROW / 10, shop)),
            )  # fmt: skip
            if not len(runs):
                continue
            longest = int(np.argmax(runs[:, 1] - runs[:, 0]))
            length = int(runs[longest, 1] - runs[longest, 0])
            if length * deep > best[2] * best[3]:
                row = int(np.searchsorted(pointer, longest, side="right")) - 1
                best = (int(runs[longest, 0]), row, length, deep)
        if not best[2]:
            break
        x, row, length, deep = best
        offcut = Offcut(board.id, x / 10, (y0 + row * _ROW) / 10, length / 10, deep * _ROW / 10)
        found.append(offcut)
        zones.append(
            _taken(offcut.x_mm, offcut.y_mm, offcut.length_mm, offcut.width_mm, shop.kerf_mm)
        )
    return tuple(found)


def _least_length_mm(width: float, shop: Shop) -> float:
    """Return how long a left-over of this width (mm) has to be to be worth keeping."""
    return min(LEAST_LENGTH_MM, max(shop.shortest_piece_mm, LEAST_AREA_MM2 / width))


def _taken(x: float, y: float, length: float, width: float, kerf: float) -> Zone:
    return Zone(box(x - kerf, y - kerf, x + length + kerf, y + width + kerf), "a part")
