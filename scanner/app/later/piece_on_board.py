"""A piece laid onto its board: its picture as it lay, and what the board says once it was seen."""

from __future__ import annotations

from dataclasses import replace
from itertools import count
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.seen_piece import SeenPiece, with_seen
from scanner.board.volume import is_measured
from scanner.errors import BoardError, PhotoError
from scanner.files.picture_file import open_picture
from scanner.geometry.polygons import mirrored
from scanner.lot.colour_words import colour_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.board import Board
    from scanner.board.looks import Lab
    from scanner.board.measured import Measured
    from scanner.vision.photos.picture import FaceScan
    from scanner.vision.second_look.find_again import PiecePlace

    Pixels = NDArray[np.uint8]


def with_piece(
    board: Board,
    place: PiecePlace,
    flaws: Sequence[Flaw],
    thickness: Measured | None,
    lab: Lab | None = None,
) -> Board:
    """Return the board with what a planed piece of it shows.

    Where the piece lay, flaws of that face that nobody has spoken of give way to those seen now;
    what a person confirmed, added or struck stays. The board keeps how thick the piece is by now,
    so that no thicker part is laid there, and its colour where white paper lay beside it;
    ``thickness`` None where nobody measured it.
    """
    x0, x1 = _surely_of_it(place)
    kept = _flaws_that_stay(board, place)
    return replace(
        board,
        flaws=(*kept, *_flaws_seen_now(flaws, place, {flaw.id for flaw in kept})),
        notes=tuple(dict.fromkeys([*board.notes, _note_of(place, thickness, lab)])),
        pieces=with_seen(
            board.pieces,
            SeenPiece(
                1 if place.face == 1 else 2,
                x0,
                place.y_mm,
                x1 - x0,
                place.width_mm,
                thickness,
                lab,
            ),
        ),
    )


def _surely_of_it(place: PiecePlace) -> tuple[float, float]:
    """Return between which x, mm, the wood is of this piece wherever along it lay."""
    off = min(place.blur_mm, 0.25 * place.length_mm)
    return place.x_mm + off, place.x_mm + place.length_mm - off


def _flaws_that_stay(board: Board, place: PiecePlace) -> list[Flaw]:
    """Return a board's flaws without those that only a scan saw where the piece lay, on its face.

    Wane is of the board's rim, which a piece does not show.
    """
    from shapely.geometry import box

    x0, x1 = _surely_of_it(place)
    ground = box(x0, place.y_mm, x1, place.y_mm + place.width_mm)
    kept = []
    for flaw in board.flaws:
        shape = flaw.outlines.get(place.face)
        is_ours = shape is not None and ground.contains(shape.centroid)
        if flaw.state is not FlawState.POSSIBLE or not is_ours or flaw.kind is FlawKind.WANE:
            kept.append(flaw)
            continue
        others = {n: s for n, s in flaw.outlines.items() if n != place.face}
        if others:
            kept.append(replace(flaw, outlines=others, is_through=False))
    return kept


def _flaws_seen_now(flaws: Sequence[Flaw], place: PiecePlace, names: set[str]) -> list[Flaw]:
    """Return the flaws of a piece on its board, named P1, P2 and on beside the ``names`` taken."""
    seen = [flaw for flaw in flaws if flaw.kind is not FlawKind.WANE]
    free = (name for n in count(1) if (name := f"P{n}") not in names)
    return [
        replace(
            flaw,
            id=name,
            outlines={place.face: _wherever(on_board(flaw.outlines[1], place), place.blur_mm)},
            reach_mm=None,
            reason=f"{flaw.reason or flaw.kind.words}; seen on the planed face",
        )
        for flaw, name in zip(seen, free, strict=False)
    ]


def _note_of(place: PiecePlace, thickness: Measured | None, lab: Lab | None) -> str:
    """Return the line that a board keeps of a piece that was looked at again."""
    note = (
        f"piece from {place.x_mm:.0f} to {place.x_mm + place.length_mm:.0f} mm was looked at again"
        f" on face {place.face}"
    )
    if place.blur_mm:
        note += f" (± {place.along_u_mm:.0f} mm along)"
    if thickness is not None:
        note += f": {thickness.value_mm:.1f} mm thick then"
    if lab is not None:
        note += f", colour: {colour_words(lab)}, against white paper"
    return note


def _wherever(shape: Polygon, blur_mm: float) -> Polygon:
    """Return all wood along the board that a flaw may lie on."""
    from shapely import affinity, union
    from shapely.geometry import Polygon as Outline

    if not blur_mm:
        return shape
    ends = [affinity.translate(shape, by, 0.0) for by in (-blur_mm, blur_mm)]
    hull = union(*ends).convex_hull
    return hull if isinstance(hull, Outline) else shape


def measured(typed: Measured) -> Measured | None:
    """Return a thickness that somebody measured; None for a class such as 4/4, which nobody did."""
    return typed if is_measured(typed) else None


def lab_of(scan: FaceScan) -> Lab | None:
    """Return the colour of a photographed piece against white paper, None where none lay by it."""
    return None if scan.colour is None else scan.colour.lab


def on_board(shape: Polygon, place: PiecePlace) -> Polygon:
    """Return a shape of the piece's own view (as photographed) in the board frame."""
    from shapely import affinity

    moved = shape
    if place.face == 2:  # seen through the board
        moved = mirrored(moved, "sideways", place.length_mm, place.width_mm)
    if place.is_turned:
        moved = affinity.affine_transform(moved, (-1, 0, 0, -1, place.length_mm, place.width_mm))
    return affinity.translate(moved, place.x_mm, place.y_mm)


def cut_to_outline(scan: FaceScan) -> tuple[Pixels, NDArray[np.bool_], tuple[float, float]]:
    """Return the piece's picture cut to its outline, where it is wood, and its size, mm."""
    from scanner.vision.cv import painted

    picture, outline = scan.picture, scan.reading.outline
    x0, y0, x1, y1 = outline.bounds
    mm, (left, top) = picture.mm_per_px, picture.origin_mm
    columns = slice(max(0, round((x0 - left) / mm)), round((x1 - left) / mm) + 1)
    rows = slice(max(0, round((y0 - top) / mm)), round((y1 - top) / mm) + 1)
    if (x1 - x0) < (y1 - y0):
        raise PhotoError(
            "the piece is wider than it is long, so its grain cannot be laid over a board's",
            "find it by hand, or photograph it before it is crosscut so short",
        )
    wood = painted((outline,), picture.origin_mm, mm, picture.pixels.shape)
    return (
        np.ascontiguousarray(picture.pixels[rows, columns]),
        np.ascontiguousarray(wood[rows, columns]),
        (x1 - x0, y1 - y0),
    )


def stretch_of(
    board: Board, picture_of: Callable[[Board, int], Path | None], place: PiecePlace
) -> Pixels:
    """Return the board's own picture of where a piece may have lain."""
    face, path = board.faces[place.face], picture_of(board, place.face)
    if path is None or face.picture_origin is None or face.mm_per_px is None:
        raise BoardError(f"{board.id} has no picture of face {place.face}", "scan it again")
    pixels = np.asarray(open_picture(path))
    mm, (left, top) = face.mm_per_px, face.picture_origin
    c0, r0 = round((place.x_mm - left) / mm), round((place.y_mm - top) / mm)
    c1 = c0 + max(2, round(place.length_mm / mm))
    r1 = r0 + max(2, round(place.width_mm / mm))
    return np.ascontiguousarray(pixels[max(0, r0) : r1, max(0, c0) : c1])


def as_it_lay(pixels: Pixels, place: PiecePlace) -> Pixels:
    """Return a piece's picture laid as it lay on its board."""
    laid = pixels[::-1] if place.face == 2 else pixels
    return np.ascontiguousarray(laid[::-1, ::-1] if place.is_turned else laid)
