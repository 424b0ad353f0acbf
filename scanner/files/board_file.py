"""``board.json``: a board in and out."""

from pathlib import Path
from typing import Any

from shapely.geometry import Polygon

from scanner.board.board import Board, End, Face, Station
from scanner.board.flaw import Flaw
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.board.seen_piece import SeenPiece
from scanner.errors import BoardError
from scanner.files.board_rows import (
    BoardRow,
    FaceRow,
    FlawRow,
    Point,
    SeenPieceRow,
    WarpRow,
    ring_with_area,
)
from scanner.files.json_text import json_text, rounded, significant
from scanner.files.looks_row import looks_from, looks_record
from scanner.files.rows import read_json, record_of
from scanner.geometry.polygons import points_of, polygon_of

# Rounding may shorten a crack by this at most; one that loses more is written wider.
_REACH_MAY_LOSE_MM = 0.1


def board_json(board: Board) -> str:
    """Return the text of ``board.json``."""
    record: dict[str, Any] = {
        "format": "board",
        "version": 1,
        "id": board.id,
        "species": board.species,
        "thickness": _measured(board.thickness),
        "length": _measured(board.length),
        "widths": [{"x": rounded(s.x_mm), **_measured(s.width)} for s in board.widths],
        "quality": board.quality,
        "outline": {
            str(n): _ring_for_file(face.outline) for n, face in sorted(board.faces.items())
        },
        "outline_u": rounded(board.outline_u_mm),
        "flaws": [_flaw_record(flaw) for flaw in board.flaws],
        "ends": {
            name: {
                "looked_over": board.ends[name].looked_over,
                "trim": _or_none(board.ends[name].trim_mm),
            }
            for name in ("A", "B")
        },
        "faces": {
            "1": _face_record(board.faces[1]),
            "2": {**_face_record(board.faces[2]), "turned": board.turned},
        },
        "warp": None if board.warp is None else _warp_record(board.warp),
        "sapwood": None
        if board.sapwood is None
        # Both faces, so that a reader need not ask whether one is there.
        else {str(n): [points_of(p) for p in board.sapwood.get(n, ())] for n in (1, 2)},
        "only_parts": None if board.only_parts is None else list(board.only_parts),
        "keep_whole": board.keep_whole,
        "price": board.price,
        "moisture": board.moisture,
        "bought": board.bought,
        "notes": list(board.notes),
    }
    if board.looks is not None:  # written only where something is known, as older readers refuse it
        record["looks"] = looks_record(board.looks)
    if board.slope_one_in is not None:
        record["slope_one_in"] = rounded(board.slope_one_in)
    if board.pieces:
        record["pieces"] = [_piece_record(piece) for piece in board.pieces]
    return json_text(record)


def read_board(path: Path) -> Board:
    """Return the board in a ``board.json``.

    Raises
    ------
    FileError
        The file cannot be read.
    BoardError
        It is no board file, or a field is wrong; the sentence names the field.
    """
    if path.suffix.lower() == ".lot":
        raise BoardError(
            f"{path} is a lot, and one board.json is asked for here",
            "name the board.json, or do this on the page",
        )
    return _board_of(read_json(path, BoardRow, "board", BoardError))


def board_from_text(text: str, where: str) -> Board:
    """Return the board in the text of a ``board.json`` (see ``read_board``)."""
    return _board_of(record_of(text, where, BoardRow, "board", BoardError))


def _board_of(row: BoardRow) -> Board:
    first = _face_of(row.faces.first, row.outline.first)
    second = _face_of(row.faces.second, row.outline.second)
    return Board(
        id=row.id,
        species=row.species,
        thickness=Measured(row.thickness.value, row.thickness.u),
        length=Measured(row.length.value, row.length.u),
        widths=tuple(Station(s.x, Measured(s.value, s.u)) for s in row.widths),
        faces={1: first, 2: second},
        flaws=tuple(_flaw_of(flaw) for flaw in row.flaws),
        ends={
            name: End(end.looked_over, end.trim)
            for name, end in (("A", row.ends.A), ("B", row.ends.B))
        },
        outline_u_mm=row.outline_u,
        quality=row.quality,
        turned=row.faces.second.turned,
        warp=None if row.warp is None else _warp_of(row.warp),
        sapwood=None
        if row.sapwood is None
        else {int(n): tuple(polygon_of(r) for r in rings) for n, rings in row.sapwood.items()},
        only_parts=None if row.only_parts is None else tuple(row.only_parts),
        keep_whole=bool(row.keep_whole),
        price=row.price,
        moisture=row.moisture,
        bought=row.bought,
        notes=tuple(row.notes or ()),
        looks=None if row.looks is None else looks_from(row.looks),
        slope_one_in=row.slope_one_in,
        pieces=tuple(_piece_of(piece) for piece in row.pieces or ()),
    )


def _piece_record(piece: SeenPiece) -> dict[str, Any]:
    record: dict[str, Any] = {
        "face": piece.face,
        "x": rounded(piece.x_mm),
        "y": rounded(piece.y_mm),
        "length": rounded(piece.length_mm),
        "width": rounded(piece.width_mm),
    }
    if piece.thickness is not None:
        record["thickness"] = _measured(piece.thickness)
    if piece.lab is not None:
        record["lab"] = [rounded(value) for value in piece.lab]
    return record


def _piece_of(row: SeenPieceRow) -> SeenPiece:
    known = row.thickness
    thickness = None if known is None else Measured(known.value, known.u)
    return SeenPiece(row.face, row.x, row.y, row.length, row.width, thickness, row.lab)


def _warp_of(row: WarpRow) -> Warp | None:
    """Return a board's warp; None where nobody measured any: that is not flat."""
    if (row.bow, row.cup, row.twist, row.crook) == (None,) * 4:
        return None
    return Warp(row.bow, row.cup, row.twist, row.crook, row.sign_known)


def _face_of(row: FaceRow, ring: list[Point]) -> Face:
    return Face(
        outline=polygon_of(ring),
        looked_over=row.looked_over,
        photos=tuple(row.photos),
        picture=row.picture,
        mm_per_px=row.mm_per_px,
        picture_origin=row.picture_origin,
        rule=row.rule,
        u_scale=row.u_scale,
    )


def _flaw_of(row: FlawRow) -> Flaw:
    return Flaw(
        id=row.id,
        kind=row.kind,
        outlines={int(face): polygon_of(ring) for face, ring in row.outlines.items()},
        sound=row.sound,
        is_through=row.through,
        reach_mm=row.reach,
        state=row.state,
        score=row.score,
        reason=row.reason,
        u_mm=row.u,
    )


def _measured(length: Measured) -> dict[str, float]:
    return {"value": rounded(length.value_mm), "u": rounded(length.u_mm)}


def _or_none(length_mm: float | None) -> float | None:
    return None if length_mm is None else rounded(length_mm)


def _flaw_record(flaw: Flaw) -> dict[str, Any]:
    return {
        "id": flaw.id,
        "kind": flaw.kind.value,
        "sound": flaw.sound,
        "through": flaw.is_through,
        "outlines": {
            str(face): _ring_for_file(ring)
            for face, ring in sorted(flaw.outlines.items())
            if not ring.is_empty
        },
        "reach": _or_none(flaw.reach_mm),
        "state": flaw.state.value,
        "score": None if flaw.score is None else round(flaw.score, 3),
        "reason": flaw.reason,
        "u": rounded(flaw.u_mm),
    }


def _ring_for_file(shape: Polygon) -> list[list[float]]:
    """Return a ring that reads as the same shape after rounding.

    Hair cracks may close up or lose their needle-thin ends; those are written a little wider.
    """
    for wider in (0.0, 0.01, 0.03, 0.1):
        fitted = shape.buffer(wider, quad_segs=2) if wider else shape
        ring = points_of(fitted)
        try:
            ring_with_area([(x, y) for x, y in ring])
        except ValueError:
            continue
        if polygon_of(ring).buffer(_REACH_MAY_LOSE_MM).covers(shape):
            return ring
    return points_of(shape.envelope.buffer(0.1))


def _face_record(face: Face) -> dict[str, Any]:
    origin = face.picture_origin
    return {
        "looked_over": face.looked_over,
        "photos": list(face.photos),
        "picture": face.picture,
        "mm_per_px": None if face.mm_per_px is None else significant(face.mm_per_px),
        "picture_origin": None if origin is None else [rounded(origin[0]), rounded(origin[1])],
        "rule": face.rule,
        "u_scale": significant(face.u_scale),
    }


def _warp_record(warp: Warp) -> dict[str, Any]:
    record: dict[str, Any] = {
        "bow": _or_none(warp.bow_mm),
        "cup": _or_none(warp.cup_mm),
        "twist": _or_none(warp.twist_mm),
        "crook": _or_none(warp.crook_mm),
    }
    # Written only where it says something: most readers need not know of it.
    return record if warp.sign_known else {**record, "sign_known": False}
