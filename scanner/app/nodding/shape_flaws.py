"""The errand "mend a flaw's outline": draw one, reshape, divide, join, name another kind, delete.

Shapes come as a person sees the face (see `page_state`) and go into the board frame here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from shapely import affinity, ops
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.validation import make_valid

from scanner.app.nodding.seen_face import as_seen
from scanner.board.flaw import CRACKS, Flaw, FlawKind, FlawState
from scanner.errors import BoardError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.board import Board

    Ring = Sequence[tuple[float, float]]

# Smaller than a pin hole: a slip of the finger.
SMALLEST_MM2 = 1.0
# A corner set with finger or mouse lies within about this many pixels of what was meant; a guess,
# since nobody measured hands here.
_HAND_PX = 5.0
# As close to an end counts as starting there; the outline's own corners are no truer.
_AT_THE_END_MM = 10.0


def draw_flaw(
    board: Board, name: str, kind: FlawKind, face: int, ring: Ring, mm_per_px: float
) -> Board:
    """Return the board with a flaw that the user drew on one face.

    Parameters
    ----------
    name
        The id wished for; the next free one where it is taken.
    ring
        Corners as seen on the face, mm.
    mm_per_px
        How close the user was: gives the outline's U.

    Raises
    ------
    BoardError
        The board has no such face, or the shape is none or lies beside the wood.
    """
    shape = _on_wood(board, face, ring)
    flaw = Flaw(
        id=_free_name(board, name),
        kind=kind,
        outlines={face: shape},
        state=FlawState.ADDED,
        reason=None,
        u_mm=_drawn_u_mm(board, mm_per_px),
    )
    return board.with_flaws((*board.flaws, _with_reach(board, flaw)))


def reshape_flaw(board: Board, name: str, face: int, ring: Ring, mm_per_px: float) -> Board:
    """Return the board with another outline of a flaw on one face; it counts as confirmed."""
    flaw = find_flaw(board, name)
    outlines = {**flaw.outlines, face: _on_wood(board, face, ring)}
    return _put(
        board,
        _seen(replace(flaw, outlines=outlines, u_mm=_drawn_u_mm(board, mm_per_px))),
    )


def rename_kind(board: Board, name: str, kind: FlawKind) -> Board:
    """Return the board with a flaw said to be of another kind; it counts as confirmed."""
    flaw = find_flaw(board, name)
    sound = flaw.sound if kind is FlawKind.KNOT else None
    return _put(board, _seen(replace(flaw, kind=kind, sound=sound)))


def divide_flaw(board: Board, name: str, face: int, line: Ring) -> Board:
    """Return the board with a flaw divided in two along a line drawn across it on one face.

    The larger piece keeps the name, and the other face's outline where there is one.

    Raises
    ------
    BoardError
        The line does not go right through the flaw.
    """
    flaw = find_flaw(board, name)
    if face not in flaw.outlines:
        raise BoardError(f"{name} does not show on face {face}", "divide it on the other face")
    first, last = (_to_board(board, face, Point(point)) for point in (line[0], line[-1]))
    pieces = _pieces(flaw.outlines[face], LineString([first, last]))
    if len(pieces) < 2:
        raise BoardError(
            f"the line does not divide {name}", "draw it from one side of the flaw to the other"
        )
    kept, rest = pieces[0], pieces[1:]
    board = _put(board, _seen(replace(flaw, outlines={**flaw.outlines, face: kept})))
    for piece in rest:
        part = replace(flaw, id=_free_name(board, ""), outlines={face: piece}, is_through=False)
        board = board.with_flaws((*board.flaws, _with_reach(board, _seen(part))))
    return board


def join_flaws(board: Board, name: str, other: str) -> Board:
    """Return the board with two flaws made one: the first one's kind, an outline round both."""
    one, two = find_flaw(board, name), find_flaw(board, other)
    if one.id == two.id:
        raise BoardError(f"{name} cannot be joined with itself", "choose another flaw")
    outlines = {
        face: _round(one.outlines.get(face), two.outlines.get(face))
        for face in sorted({*one.outlines, *two.outlines})
    }
    joined = replace(
        one,
        outlines=outlines,
        is_through=one.is_through or two.is_through,
        sound=one.sound if one.sound == two.sound else None,
        u_mm=max(one.u_mm, two.u_mm),
    )
    left = tuple(flaw for flaw in board.flaws if flaw.id != two.id)
    return _put(board.with_flaws(left), _seen(joined))


def delete_flaw(board: Board, name: str) -> Board:
    """Return the board without a flaw that the user drew.

    Raises
    ------
    BoardError
        It was found in the picture: such a one is struck, so that one sees what was said of it.
    """
    flaw = find_flaw(board, name)
    if flaw.score is not None:
        raise BoardError(f"{name} was found, not drawn", "say that it is not a flaw")
    return board.with_flaws(tuple(one for one in board.flaws if one.id != name))


def find_flaw(board: Board, name: str) -> Flaw:
    """Return a flaw of a board by its id.

    Raises
    ------
    BoardError
        The board has no such flaw.
    """
    for flaw in board.flaws:
        if flaw.id == name:
            return flaw
    raise BoardError(f"{board.id} has no flaw {name} any more", "look at the board again")


def _put(board: Board, flaw: Flaw) -> Board:
    flaw = _with_reach(board, flaw)
    return board.with_flaws(tuple(flaw if one.id == flaw.id else one for one in board.flaws))


def _seen(flaw: Flaw) -> Flaw:
    """Return the flaw as confirmed: whoever mends an outline has looked at it."""
    state = FlawState.ADDED if flaw.score is None else FlawState.CONFIRMED
    return replace(flaw, state=state)


def _on_wood(board: Board, face: int, ring: Ring) -> Polygon:
    if face not in board.faces:
        raise BoardError(f"{board.id} has no face {face}", "choose face 1 or face 2")
    largest = _largest(make_valid(Polygon(ring)) if len(ring) > 2 else Polygon())
    shape = as_seen(board, face, largest) if not largest.is_empty else largest
    if shape.area < SMALLEST_MM2:
        raise BoardError("the drawn shape has no area", "set three corners or more round the flaw")
    if not shape.intersects(board.wood(face)):
        raise BoardError("the drawn shape lies beside the board", "draw it on the wood")
    return shape


def _to_board(board: Board, face: int, point: Point) -> Point:
    # `as_seen` mirrors, so it is its own way back; it takes shapes with an area.
    spot = as_seen(board, face, point.buffer(1.0))
    return Point(spot.centroid)


def _largest(shape: object) -> Polygon:
    if isinstance(shape, Polygon):
        return Polygon(shape.exterior) if not shape.is_empty else shape
    parts = [
        part for part in getattr(shape, "geoms", ()) if isinstance(part, Polygon | MultiPolygon)
    ]
    return max((_largest(part) for part in parts), key=lambda part: part.area, default=Polygon())


def _pieces(shape: Polygon, line: LineString) -> list[Polygon]:
    """Return what a line leaves of a shape, largest first; slips of the finger are let go."""
    if line.length == 0:
        return [shape]
    # Drawn by hand it may end just inside the shape.
    longer = affinity.scale(line, 1.3, 1.3, origin="center")
    pieces = [piece for piece in ops.split(shape, longer).geoms if isinstance(piece, Polygon)]
    return sorted(
        (piece for piece in pieces if piece.area >= SMALLEST_MM2),
        key=lambda piece: piece.area,
        reverse=True,
    )


def _round(one: Polygon | None, two: Polygon | None) -> Polygon:
    shapes = [shape for shape in (one, two) if shape is not None]
    together = ops.unary_union(shapes)
    return together if isinstance(together, Polygon) else _largest(together.convex_hull)


def _drawn_u_mm(board: Board, mm_per_px: float) -> float:
    return round(math.hypot(board.outline_u_mm, _HAND_PX * mm_per_px), 2)


def _free_name(board: Board, wished: str) -> str:
    taken = {flaw.id for flaw in board.flaws}
    if wished and wished not in taken:
        return wished
    number = 1
    while f"F{number}" in taken:
        number += 1
    return f"F{number}"


def _with_reach(board: Board, flaw: Flaw) -> Flaw:
    """Return the flaw with its reach, if it is a crack that starts at an end."""
    if flaw.kind not in CRACKS:
        return replace(flaw, reach_mm=None)
    runs = [_run_mm(board, face, shape) for face, shape in flaw.outlines.items()]
    return replace(flaw, reach_mm=max((run for run in runs if run is not None), default=None))


def _run_mm(board: Board, face: int, shape: Polygon) -> float | None:
    begin, _, end, _ = board.faces[face].outline.bounds
    x0, _, x1, _ = shape.bounds
    if x0 <= begin + _AT_THE_END_MM:
        return float(x1 - begin)
    return float(end - x0) if x1 >= end - _AT_THE_END_MM else None
