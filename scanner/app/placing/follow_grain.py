"""Reads the course of the grain off the flat pictures, for parts that ask to be turned with it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.grain import course_deg
from scanner.files.picture_file import open_picture
from scanner.placement.rules.follow import follows, turn_deg

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList


def with_grain(
    boards: Sequence[Board], parts: PartsList, picture_of: Callable[[Board, int], Path | None]
) -> tuple[Board, ...]:
    """Return the boards with the course of their grain, where a part asks to follow it."""
    if not any(follows(part) for part in parts):
        return tuple(boards)
    return tuple(
        replace(
            board, grain_deg=course_deg(board, (_of_face(board, n, picture_of) for n in (1, 2)))
        )
        for board in boards
    )


def _of_face(
    board: Board, number: int, picture_of: Callable[[Board, int], Path | None]
) -> float | None:
    # Finding nothing costs nothing: the picture's arithmetic is loaded where there is a picture.
    from scanner.vision.course import course_deg as of_picture

    face = board.faces[number]
    path = picture_of(board, number)
    if path is None or not path.is_file() or face.mm_per_px is None or face.picture_origin is None:
        return None
    pixels = np.asarray(open_picture(path).convert("RGB"))
    shown = (flaw.outlines[number] for flaw in board.flaws_on(number) if flaw.counts)
    return of_picture(pixels, face.mm_per_px, face.picture_origin, face.outline, tuple(shown))


def grain_said(boards: Sequence[Board], parts: PartsList, layout: Layout) -> tuple[str, ...]:
    """Return what to know of parts that follow the grain: how they are turned, or that none is."""
    asking = {part.name: part for part in parts if follows(part)}
    on = {p.board for p in layout.placements if p.part in asking}
    said = []
    for board in boards:
        if board.id not in on:
            continue
        turns = {turn_deg(board, part) for part in asking.values()}
        names = ", ".join(
            sorted({p.part for p in layout.placements if p.board == board.id} & set(asking))
        )
        if board.grain_deg is None:
            said.append(
                f"{names} on {board.id}: the course of its grain is not known, so the part lies "
                "along the board; look at pores and checks before you mark it."
            )
        elif any(turns):
            said.append(
                f"{names} on {board.id} is turned {abs(board.grain_deg):.1f} degrees with the "
                "grain: saw the blank out square, then mark the part on it along the grain."
            )
    return tuple(said)
