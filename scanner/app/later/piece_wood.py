"""What a piece may be of: boards with their pictures, and the pieces that were to be cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.flaw import FlawKind
from scanner.errors import SettingsError
from scanner.files.picture_file import open_picture

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.vision.second_look.find_again import FacePrint, PlannedPiece


@dataclass(frozen=True, slots=True)
class PieceWood:
    """The boards a piece may be of, where their pictures lie, and what was to be cut."""

    boards: tuple[Board, ...]
    picture_of: Callable[[Board, int], Path | None]
    cuts: tuple[PlannedPiece, ...]

    @property
    def has_pictures(self) -> bool:
        """Whether any face of any board can be compared with a piece."""
        return any(_pictures(board, self.picture_of) for board in self.boards)

    def board(self, name: str) -> Board:
        """Return a board by its name."""
        return next(board for board in self.boards if board.id == name)


def wood_of_files(boards: Sequence[Path], layout: Path | None) -> PieceWood:
    """Return the boards of board.json files, and the pieces of a layout where one is given."""
    from scanner.app.lot.given_boards import read_given_boards

    given, folders = read_given_boards(boards)

    def picture_of(board: Board, number: int) -> Path | None:
        name = board.faces[number].picture
        return folders[board.id] / name if name else None

    return PieceWood(given, picture_of, _planned(layout) if layout is not None else ())


def wood_of_lot(path: Path) -> PieceWood:
    """Return the boards of a lot, and the pieces of its newest layout."""
    from scanner.storage.lots import open_lot
    from scanner.vision.second_look.find_again import PlannedPiece

    lot = open_lot(path, create=False)
    try:
        boards, saved = lot.boards(), lot.layout()
        names = {one.picture for board in boards for one in board.faces.values() if one.picture}
        paths = {name: lot.picture(name) for name in names}
    finally:
        lot.close()
    pieces = saved.layout.pieces if saved is not None else ()

    def picture_of(board: Board, number: int) -> Path | None:
        return paths.get(board.faces[number].picture or "")

    cuts = tuple(PlannedPiece(p.board, p.id, p.x0_mm, p.x1_mm) for p in pieces)
    return PieceWood(boards, picture_of, cuts)


def _planned(layout: Path) -> tuple[PlannedPiece, ...]:
    from scanner.files.layout_file import read_layout
    from scanner.vision.second_look.find_again import PlannedPiece

    pieces = read_layout(layout).pieces
    if not pieces:
        raise SettingsError(
            f"{layout.name} holds no pieces", "give the layout.json that place wrote"
        )
    return tuple(PlannedPiece(p.board, p.id, p.x0_mm, p.x1_mm) for p in pieces)


def prints_of(board: Board, picture_of: Callable[[Board, int], Path | None]) -> list[FacePrint]:
    """Return the grain prints of the faces of a board that have a picture."""
    from scanner.vision.cv import painted
    from scanner.vision.second_look.find_again import FacePrint
    from scanner.vision.second_look.grain_print import grain_print

    found = []
    for number, path, mm_per_px, origin_mm in _pictures(board, picture_of):
        pixels = np.asarray(open_picture(path))
        wood = painted((board.faces[number].outline,), origin_mm, mm_per_px, pixels.shape)
        marks = tuple(
            flaw.outlines[number] for flaw in board.flaws_on(number) if flaw.kind is FlawKind.MARKED
        )
        hidden = painted(marks, origin_mm, mm_per_px, pixels.shape)
        grain = grain_print(pixels, wood, mm_per_px, hidden)
        found.append(FacePrint(board, number, grain, origin_mm))
    return found


def _pictures(
    board: Board, picture_of: Callable[[Board, int], Path | None]
) -> list[tuple[int, Path, float, tuple[float, float]]]:
    """Return of each face with a picture: number, path, mm per px, board mm of its first pixel."""
    return [
        (number, path, face.mm_per_px, face.picture_origin)
        for number, face in board.faces.items()
        if (path := picture_of(board, number)) is not None and path.is_file()
        if face.mm_per_px and face.picture_origin
    ]
