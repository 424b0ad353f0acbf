"""The errand "which boards are alike": a lot's boards sorted by likeness to a chosen one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.later.piece_wood import PieceWood, wood_of_files, wood_of_lot
from scanner.app.lot.likeness_in_lot import AlikeLine, line_of
from scanner.app.scanning.board_looks import looks_of_pictures
from scanner.errors import BoardError
from scanner.files.picture_file import open_picture, png_bytes
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.alike import Alike, is_of_kind, looks_words, sorted_by_likeness, why_words
from scanner.sheets.alike_sheet import Strip, alike_sheet

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from PIL import Image

    from scanner.board.board import Board

# A board further down is not looked at.
_MOST_SHOWN = 8


@dataclass(frozen=True, slots=True)
class AlikeAnswer:
    """The boards sorted, the chosen board in words, and the files written."""

    chosen: str
    lines: tuple[AlikeLine, ...]
    written: tuple[Path, ...]


def alike_boards(
    wood: Path,
    to: str,
    folder: Path | None = None,
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> AlikeAnswer:
    """Sort the boards of a lot or of a folder by likeness to one of them.

    Parameters
    ----------
    wood
        A lot file, or a folder with a board.json in each of its folders.
    to
        The chosen board's id.
    folder
        Gets ``alike.png``, strips of the likest boards under each other; None draws nothing.

    Raises
    ------
    ScannerError
        There is no such board, or nothing to compare it with.
    """
    if folder is not None:
        refuse_unwritable(folder)
    given = _wood(wood)
    boards = _with_looks(given, to, progress)
    chosen = next(board for board in boards if board.id == to)
    found = sorted_by_likeness(chosen, boards)
    if not found:
        raise BoardError(
            f"{wood.name} holds no other board of {chosen.species}", "scan another one first"
        )
    written: tuple[Path, ...] = ()
    if folder is not None:
        picture = _sheet(chosen, found[:_MOST_SHOWN], given.picture_of)
        written = write_files(folder, {"alike.png": png_bytes(picture)})
    progress("done", 1.0)
    return AlikeAnswer(_chosen_words(chosen), tuple(line_of(chosen, one) for one in found), written)


def _chosen_words(chosen: Board) -> str:
    words = looks_words(chosen)
    return f"{chosen.id}: {words}" if words else f"{chosen.id}: nothing is known of its looks"


def _wood(path: Path) -> PieceWood:
    if path.is_dir():
        files = sorted(path.glob("*/board.json")) or sorted(path.glob("board.json"))
        if not files:
            raise BoardError(
                f"{path} holds no board.json in its folders", "give the folder that scan wrote into"
            )
        return wood_of_files(files, None)
    return wood_of_lot(path)


def _with_looks(
    given: PieceWood, to: str, progress: Callable[[str, float], None]
) -> tuple[Board, ...]:
    """Return the boards of the chosen one's species with their looks, read anew where missing."""
    chosen = next((board for board in given.boards if board.id == to), None)
    if chosen is None:
        names = ", ".join(board.id for board in given.boards)
        raise BoardError(f"there is no board {to}", f"choose one of {names}")
    own = [board for board in given.boards if is_of_kind(board, chosen)]
    found = []
    for number, board in enumerate(own):
        progress(f"looking at {board.id}", number / len(own))
        found.append(replace(board, looks=looks_of_pictures(board, given.picture_of)))
    return tuple(found)


def _sheet(
    chosen: Board, found: tuple[Alike, ...], picture_of: Callable[[Board, int], Path | None]
) -> Image.Image:
    strips = [Strip(chosen.id, looks_words(chosen), _faces(chosen, picture_of))]
    for one in found:
        words = f"{one.word}: {why_words(chosen, one)}"
        strips.append(Strip(one.board.id, words, _faces(one.board, picture_of)))
    return alike_sheet(
        f"Boards of {chosen.species}, the likest to {chosen.id} first", tuple(strips)
    )


def _faces(
    board: Board, picture_of: Callable[[Board, int], Path | None]
) -> tuple[tuple[Image.Image, float], ...]:
    found = []
    for number, face in sorted(board.faces.items()):
        path = picture_of(board, number)
        if path is not None and path.is_file() and face.mm_per_px and face.picture_origin:
            picture = open_picture(path)
            x, y = face.picture_origin
            low_x, low_y, high_x, high_y = face.outline.bounds
            mm = face.mm_per_px
            left, top = round((low_x - x) / mm), round((low_y - y) / mm)
            right, bottom = round((high_x - x) / mm), round((high_y - y) / mm)
            found.append((picture.crop((left, top, right, bottom)), mm))
    return tuple(found)
