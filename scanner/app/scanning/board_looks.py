"""A board's looks as its scans or its kept pictures show them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.looks import Looks
from scanner.files.picture_file import open_picture

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from scanner.board.board import Board
    from scanner.vision.looks.of_board import FaceWood
    from scanner.vision.photos.picture import FaceScan


def looks_of_scans(
    board: Board, scans: Mapping[int, FaceScan], pictures: Mapping[int, NDArray[np.uint8]]
) -> Looks | None:
    """Return what the scanned faces look like; None where nothing can be told.

    Parameters
    ----------
    scans, pictures
        By face; the pictures (H, W, 3) as the board's files hold them, in the board frame.
    """
    from scanner.vision.looks.of_board import looks_of

    colours = {n: (s.colour, s.sap_colour) for n, s in scans.items() if s.colour is not None}
    looks = looks_of(_woods(board, pictures), board.thickness.value_mm, colours)
    return None if looks == Looks() else looks


def looks_of_pictures(
    board: Board, picture_of: Callable[[Board, int], Path | None]
) -> Looks | None:
    """Return what a board looks like: as its file says, else as its kept pictures show its rings.

    A kept picture has no white paper beside it, so a colour that the file does not know stays
    unknown. Files written before rings were kept in their order get them from the pictures.
    """
    from scanner.vision.looks.of_board import looks_of

    known = board.looks or Looks()
    if known.rings:
        return known
    pictures = {}
    for number in board.faces:
        path = picture_of(board, number)
        if path is not None and path.is_file():
            pictures[number] = np.asarray(open_picture(path), dtype=np.uint8)
    seen = looks_of(_woods(board, pictures), board.thickness.value_mm)
    if known.ring_mm is not None:
        return replace(known, rings=seen.rings)
    looks = replace(seen, lab=known.lab, spread=known.spread, sap_lab=known.sap_lab)
    return None if looks == Looks() else looks


def _woods(board: Board, pictures: Mapping[int, NDArray[np.uint8]]) -> dict[int, FaceWood]:
    from scanner.vision.looks.of_board import FaceWood

    found = {}
    for number, pixels in pictures.items():
        face = board.faces[number]
        if face.mm_per_px is None or face.picture_origin is None:
            continue
        flaws = tuple(f.outlines[number] for f in board.flaws_on(number) if f.counts)
        found[number] = FaceWood(pixels, face.mm_per_px, face.picture_origin, face.outline, flaws)
    return found
