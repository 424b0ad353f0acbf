"""A piece cut out of a board, as a board of its own: outlines, flaws and warp go with it."""

from dataclasses import replace

from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from scanner.board.board import Board, End, Station
from scanner.board.flaw import Flaw
from scanner.board.form import Warp, bend_of_piece_mm, twist_of_piece_mm
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES, quality_by_u
from scanner.board.seen_piece import in_frame
from scanner.geometry.polygons import largest_polygon

# Cut with care to a line; what the saw and the eye add.
_CUT_U_MM = 1.0
# What is left of a flaw that the cut only just touches is no flaw any more.
_LEAST_FLAW_MM2 = 1.0


def cut_out(
    board: Board, id: str, corner_mm: tuple[float, float], size_mm: tuple[float, float]
) -> Board:
    """Return the piece between two crosscuts and two rips.

    Parameters
    ----------
    id
        The piece's own name.
    corner_mm
        Its corner of smallest x and y on the board.
    size_mm
        Length along the board and width across.

    Returns
    -------
    Board
        In a frame of its own, zero at that corner; without pictures. Its ends are fresh cuts that
        nobody has looked at yet; its faces are looked over where the board's were.

    Raises
    ------
    ValueError
        No wood lies there.
    """
    (x, y), (length, width) = corner_mm, size_mm
    frame = box(x, y, x + length, y + width)
    outlines = {n: _moved(face.outline, frame) for n, face in board.faces.items()}
    if any(outline.is_empty for outline in outlines.values()):
        raise ValueError(f"no wood of {board.id} at {corner_mm}")
    faces = {
        n: replace(face, outline=outlines[n], picture=None, mm_per_px=None, picture_origin=None)
        for n, face in board.faces.items()
    }
    x0, _, x1, _ = outlines[1].bounds
    length_cut = Measured(x1 - x0, _CUT_U_MM)
    return replace(
        board,
        id=id,
        length=length_cut,
        widths=tuple(_station(outlines[1], x0 + share * (x1 - x0)) for share in STATION_SHARES),
        quality=quality_by_u(length_cut, _CUT_U_MM),
        faces=faces,
        flaws=_flaws_in(board, frame),
        ends={"A": End(), "B": End()},
        outline_u_mm=_CUT_U_MM,
        warp=_warp(board, (length, width)),
        sapwood=_sapwood(board, frame),
        only_parts=None,
        keep_whole=False,
        price=None,
        notes=(f"left over from {board.id}",),
        pieces=in_frame(board.pieces, frame),
    )


def _moved(shape: Polygon, frame: Polygon) -> Polygon:
    """Return the part of a shape in the frame, in the piece's own frame."""
    left, low, _, _ = frame.bounds
    return affinity.translate(largest_polygon(shape.intersection(frame)), -left, -low)


def _station(outline: Polygon, x: float) -> Station:
    _, y0, _, y1 = outline.bounds
    across = outline.intersection(LineString([(x, y0 - 1), (x, y1 + 1)])).length
    return Station(x, Measured(across, _CUT_U_MM))


def _flaws_in(board: Board, frame: Polygon) -> tuple[Flaw, ...]:
    found = []
    for flaw in board.flaws:
        parts = {n: shape.intersection(frame) for n, shape in flaw.outlines.items()}
        left = {
            # A bent flaw may be left in several places: one outline round all of them.
            n: _moved(part if isinstance(part, Polygon) else part.convex_hull, frame)
            for n, part in parts.items()
            if part.area > _LEAST_FLAW_MM2
        }
        if left:
            through = flaw.is_through and len(left) == len(flaw.outlines)
            found.append(replace(flaw, outlines=left, is_through=through, reach_mm=None))
    return tuple(found)


def _sapwood(board: Board, frame: Polygon) -> dict[int, tuple[Polygon, ...]] | None:
    if board.sapwood is None:
        return None
    pieces = {n: [_moved(s, frame) for s in shapes] for n, shapes in board.sapwood.items()}
    return {n: tuple(s for s in shapes if not s.is_empty) for n, shapes in pieces.items()}


def _warp(board: Board, size_mm: tuple[float, float]) -> Warp | None:
    """Return the piece's warp: bow and crook with the square of its length, cup of its width."""
    if board.warp is None:
        return None
    _, low, _, high = board.faces[1].outline.bounds
    whole = (board.length.value_mm, high - low)
    length, width = min(size_mm[0], whole[0]), min(size_mm[1], whole[1])

    def bend(of_board: float | None, whole_mm: float, piece_mm: float) -> float | None:
        return None if of_board is None else bend_of_piece_mm(of_board, whole_mm, piece_mm)

    twist = board.warp.twist_mm
    return replace(
        board.warp,
        bow_mm=bend(board.warp.bow_mm, whole[0], length),
        crook_mm=bend(board.warp.crook_mm, whole[0], length),
        cup_mm=bend(board.warp.cup_mm, whole[1], width),
        twist_mm=None if twist is None else twist_of_piece_mm(twist, whole, (length, width)),
    )
