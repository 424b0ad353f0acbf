"""How a person at the bench sees and marks a true board: by its picture, edges and corners.

A scan's frame hangs on its outline: a place told 4 mm wrong at one corner moves all of it. A person
who draws a flaw draws it where the picture has it, and one who marks a part measures from the
board's own corner and far edge, so that such a shift comes in and goes out again.
"""

import math
from dataclasses import replace

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.board import Board
from scanner.board.reading import span_along_y_mm
from scanner.placement.layout import Piece, Placement
from scanner.sheets.tape import corner_at_a, edge_y, hooked_edge

_ENDS_MM = 15.0
_STATIONS = 60


def as_pictured(true: Board, scanned: Board) -> Board:
    """Return a true board drawn where the scan's pictures show it.

    Of each face its own place: the ends tell shift and scale along, most of both arrises shift and
    slope across.
    """
    moves = {n: _move(true.faces[n].outline, scanned.faces[n].outline) for n in true.faces}

    def moved(shape: Polygon, face: int) -> Polygon:
        return affinity.affine_transform(shape, moves[face])

    flaws = tuple(
        replace(flaw, outlines={n: moved(shape, n) for n, shape in flaw.outlines.items()})
        for flaw in true.flaws
    )
    faces = {n: replace(f, outline=moved(f.outline, n)) for n, f in true.faces.items()}
    return replace(true, faces=faces, flaws=flaws)


def _move(true: Polygon, scanned: Polygon) -> tuple[float, ...]:
    """Return x' = b x + a, y' = y + d x + c as shapely's six numbers."""
    (t0, _, t1, _), (s0, _, s1, _) = true.bounds, scanned.bounds
    b = (s1 - s0) / (t1 - t0)
    a = s0 - b * t0
    x, gap = [], []
    for at in np.linspace(t0 + _ENDS_MM, t1 - _ENDS_MM, _STATIONS):
        spans = span_along_y_mm(true, float(at)), span_along_y_mm(scanned, float(a + b * at))
        if spans[0] and spans[1]:
            x += [at, at]
            gap += [spans[1][0] - spans[0][0], spans[1][1] - spans[0][1]]
    xs, gaps = np.array(x), np.array(gap)
    take = np.ones(len(xs), dtype=bool)
    # Wane that was traced badly pulls at few of the places.
    for _ in range(8):
        d, c = np.polyfit(xs[take], gaps[take], 1)
        off = np.abs(gaps - c - d * xs)
        take = off <= max(1.0, 2.0 * float(np.median(off)))
    return (b, 0.0, float(d), 1.0, a, float(c))


def marked(placement: Placement, piece: Piece, planned: Board, true: Board) -> Placement:
    """Return where a part comes to lie that is marked on the true board as the map says.

    The map tells distances along from the corner where the tape is hooked, and those of a rip from
    the far edge at both ends of its piece; the saw goes straight from mark to mark.
    """
    outline, there = planned.faces[1].outline, true.faces[1].outline
    hooked = hooked_edge(planned)
    along = corner_at_a(there, hooked.name)[0] - hooked.corner[0]
    ends = (piece.x0_mm, piece.x1_mm)
    off = [edge_y(there, x + along, "far") - edge_y(outline, x, "far") for x in ends]
    slope = (off[1] - off[0]) / (piece.x1_mm - piece.x0_mm)
    return replace(
        placement,
        x_mm=placement.x_mm + along,
        y_mm=placement.y_mm + off[0] + slope * (placement.x_mm - piece.x0_mm),
        angle_deg=placement.angle_deg + math.degrees(math.atan(slope)),
    )
