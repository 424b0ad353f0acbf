"""The errand "stock": left-overs kept as boards of their own, and found again by size."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from scanner.app.lot.given_boards import read_given_boards
from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import take_board
from scanner.app.placing.given_layout import refuse_other_boards
from scanner.app.placing.place_parts import known_units
from scanner.app.placing.plan_cuts import load_pictures
from scanner.board.piece import cut_out
from scanner.board.species import species_key
from scanner.errors import FileError, PlacementError, SettingsError
from scanner.files.board_file import board_json, read_board
from scanner.files.board_rows import file_key
from scanner.files.layout_file import read_layout
from scanner.files.picture_file import jpeg_bytes
from scanner.files.write import write_files
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.units import LengthError, length_text, read_length_mm, size_text

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    from scanner.board.board import Board
    from scanner.board.measured import Measured
    from scanner.placement.layout import Layout, Offcut
    from scanner.storage.lots import Lot

# A left-over is asked for at its clear size: nothing is added, nothing trimmed.
_AS_IT_IS = Shop(
    sawing_tolerance_mm=0.0, end_trim_seen_mm=0.0, end_trim_unseen_mm=0.0, cleanup_mm=0.0
)
# Sizes in a board.json are rounded; two pieces cut by a person differ by far more.
_SAME_MM = 0.2


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A left-over of a lot's layout: what tells it from all others, and what is said of it."""

    key: str
    said: str


def keep_left_overs(
    layout_file: Path, board_files: tuple[Path, ...], stock: Path, units: str = "mm"
) -> tuple[str, ...]:
    """Put the left-overs of a layout into stock: a folder each with board.json and pictures.

    Parameters
    ----------
    board_files
        The boards of the layout (``board.json``, or the lot that holds them).
    stock
        The folder of all stock; what it holds already stays, and no piece is kept twice.

    Returns
    -------
    tuple of str
        A line for each piece: what was kept, or that it is in stock already.

    Raises
    ------
    PlacementError
        The layout leaves nothing worth keeping, or nothing that is not in stock already, or names
        a board that is not given.
    """
    unit = known_units(units)
    layout = read_layout(layout_file)
    boards, folders = read_given_boards(board_files, unit)
    refuse_other_boards(layout, boards)
    return _keep(layout, boards, folders, stock, unit)


def keep_from_lot(lot: Lot, stock: Path, chosen: Collection[str]) -> tuple[str, ...]:
    """Put left-overs of a lot's newest layout into stock; see `keep_left_overs`.

    Parameters
    ----------
    chosen
        The keys of those to keep, as `left_overs` tells them.

    Raises
    ------
    PlacementError
        There is no layout, it does not leave what was chosen, or that is in stock already.
    """
    layout = newest_layout(lot).layout
    if set(chosen) - {_key(rest) for rest in layout.offcuts}:
        raise PlacementError(
            "the layout has other left-overs by now", "look at them again, then keep yours"
        )
    boards = lot.boards()
    folders = {board.id: lot.folder for board in boards}
    wanted = tuple(rest for rest in layout.offcuts if _key(rest) in chosen)
    return _keep(replace(layout, offcuts=wanted), boards, folders, stock, lot.shop().units)


def left_overs(lot: Lot) -> tuple[LeftOver, ...]:
    """Return the left-overs worth keeping of a lot's layout."""
    saved = lot.layout()
    units = lot.shop().units
    rests = () if saved is None else saved.layout.offcuts
    return tuple(
        LeftOver(
            _key(one),
            f"{one.board}: {size_text(one.length_mm, one.width_mm, units)}, "
            f"{length_text(one.x_mm, units)} from end A",
        )
        for one in rests
    )


def _key(rest: Offcut) -> str:
    sides = (rest.x_mm, rest.y_mm, rest.length_mm, rest.width_mm)
    return "/".join((rest.board, *(f"{side:.1f}" for side in sides)))


def take_from_stock(lot: Lot, stock: Path, name: str) -> str:
    """Lay a piece of stock into a lot as a board with its pictures; it leaves the stock.

    Returns
    -------
    str
        Its name in the lot.

    Raises
    ------
    FileError
        There is no such piece, or it cannot be deleted.
    """
    # Looked up among what is there, never joined to a path.
    folders = {path.parent.name: path.parent for path in stock.glob("*/board.json")}
    if name not in folders:
        raise FileError(f"there is no {name} in stock", "look what stock holds")
    board = read_board(folders[name] / "board.json")
    free = _free_name(board.id, {file_key(other.id) for other in lot.boards()})
    take_board(lot, replace(board, id=free), folders[name], {})
    _leave_stock(folders[name])
    return free


def _leave_stock(folder: Path) -> None:
    """Delete what `keep_left_overs` wrote of a piece; other people's files in its folder stay.

    Raises
    ------
    FileError
        It cannot be deleted.
    """
    try:
        for name in ("board.json", *(f"{folder.name}-face{number}.jpg" for number in (1, 2))):
            (folder / name).unlink(missing_ok=True)
    except OSError as problem:
        raise FileError(
            f"{folder.name} is in the lot now, but {folder} could not be cleared"
            f" ({problem.strerror or 'unknown reason'})",
            "delete that folder yourself, or the piece is there twice",
        ) from None
    # Not empty where somebody keeps more in it, or a link to elsewhere.
    with contextlib.suppress(OSError):
        folder.rmdir()


def _keep(
    layout: Layout,
    boards: Sequence[Board],
    folders: Mapping[str, Path],
    stock: Path,
    unit: Literal["mm", "inch"],
) -> tuple[str, ...]:
    known = {board.id: board for board in boards}
    if not layout.offcuts:
        raise PlacementError("the layout leaves nothing worth keeping", "nothing was written")
    taken = {file_key(path.parent.name) for path in stock.glob("*/board.json")}
    # Only what was there before: one layout may leave two pieces of one size.
    there = _in_stock(stock, {offcut.board for offcut in layout.offcuts})
    lines: list[str] = []
    files: dict[str, bytes] = {}
    for offcut in layout.offcuts:
        board = known.get(offcut.board)
        if board is None:
            raise PlacementError(
                f"the layout has a left-over of {offcut.board}, which is not among the boards",
                "add its board.json or its lot",
            )
        id = _free_name(f"{offcut.board}-rest", taken)
        piece = _piece(board, offcut, id)
        size = size_text(offcut.length_mm, offcut.width_mm, unit)
        same = next((one for one in there if _is_same_wood(one, piece)), None)
        if same is not None:
            there.remove(same)
            lines.append(f"{same.id}  {size} of {board.id}: in stock already, and stays as it is")
            continue
        taken.add(file_key(id))
        pictures = load_pictures((board,), folders)
        for number in sorted(piece.faces):
            picture = pictures[board.id, number]
            if picture is not None:
                piece, content = _with_picture(piece, board, offcut, number, picture)
                files[f"{id}/{id}-face{number}.jpg"] = jpeg_bytes(content)
        files[f"{id}/board.json"] = board_json(piece).encode()
        lines.append(f"{id}  {piece.species}, {size}")
    if not files:
        raise PlacementError(
            "every left-over of the layout is in stock already", "nothing was written"
        )
    write_files(stock, files)
    return tuple(lines)


def _in_stock(stock: Path, boards: set[str]) -> list[Board]:
    """Return the pieces that are in stock already and may be of these boards."""
    begin = tuple(f"{board}-rest" for board in boards)
    paths = sorted(stock.glob("*/board.json"))
    return [read_board(path) for path in paths if path.parent.name.startswith(begin)]


def _is_same_wood(kept: Board, piece: Board) -> bool:
    """Whether a piece in stock was cut out of the same board at the same place.

    Its own outline tells: that of a photographed board is nowhere twice. What was said of flaws
    may have changed since.
    """
    return (
        (kept.notes, kept.species) == (piece.notes, piece.species)
        and abs(kept.thickness.value_mm - piece.thickness.value_mm) < _SAME_MM
        and all(
            kept.faces[number].outline.hausdorff_distance(face.outline) < _SAME_MM
            for number, face in piece.faces.items()
        )
    )


def find_in_stock(
    stock: Path, length: str, width: str, species: str | None = None, units: str = "mm"
) -> tuple[str, ...]:
    """Return the stock that gives a clear piece of at least this size, the smallest first.

    Raises
    ------
    SettingsError
        A size is no length.
    FileError
        There is no such stock.
    """
    unit = known_units(units)
    try:
        size = read_length_mm(length, unit), read_length_mm(width, unit)
    except LengthError as problem:
        raise SettingsError(f"size: {problem.what}", "write it like 18in or 450mm") from None
    if min(size) < 1:
        raise SettingsError("a piece of no size was asked for", "write it like 18in or 450mm")
    paths = sorted(stock.glob("*/board.json"))
    if not paths:
        raise FileError(f"there is no stock in {stock}", "put left-overs into it first")
    fitting = []
    for path in paths:
        board = read_board(path)
        if species and species_key(board.species) != species_key(species):
            continue
        if _gives(board, size):
            fitting.append((board.faces[1].outline.area, _line(board, unit)))
    fitting.sort()
    return tuple(line for _, line in fitting)


def _free_name(wish: str, taken: set[str]) -> str:
    """Return a name like the one wished for; ``taken``: what others share (`file_key`)."""
    if file_key(wish) not in taken:
        return wish
    number = 2
    while file_key(f"{wish}-{number}") in taken:
        number += 1
    return f"{wish}-{number}"


def _piece(board: Board, offcut: Offcut, id: str) -> Board:
    corner, size = (offcut.x_mm, offcut.y_mm), (offcut.length_mm, offcut.width_mm)
    return cut_out(board, id, corner, size)


def _with_picture(
    piece: Board, board: Board, offcut: Offcut, number: int, picture: Image.Image
) -> tuple[Board, NDArray[np.uint8]]:
    """Return the piece with its part of a face's picture, and that part."""
    import numpy as np

    face = board.faces[number]
    per_px, origin = face.mm_per_px or 1.0, face.picture_origin or (0.0, 0.0)
    left = max(0, int((offcut.x_mm - origin[0]) / per_px))
    top = max(0, int((offcut.y_mm - origin[1]) / per_px))
    right = min(picture.width, int((offcut.x_mm + offcut.length_mm - origin[0]) / per_px) + 1)
    low = min(picture.height, int((offcut.y_mm + offcut.width_mm - origin[1]) / per_px) + 1)
    pixels = np.asarray(picture.crop((left, top, right, low)))
    place = (origin[0] + left * per_px - offcut.x_mm, origin[1] + top * per_px - offcut.y_mm)
    shown = replace(
        piece.faces[number],
        picture=f"{piece.id}-face{number}.jpg",
        mm_per_px=per_px,
        picture_origin=place,
    )
    return replace(piece, faces={**piece.faces, number: shown}), pixels


def _gives(board: Board, size: tuple[float, float]) -> bool:
    """Return whether a piece of the size, clear on both faces, comes out of a board."""
    part = Part("piece", 1, *size, 1.0, Faces.BOTH, length_allowance_mm=0.0, width_allowance_mm=0.0)
    return solve((board,), (part,), _AS_IT_IS, Work(1), in_full=False).summary.placed == 1


def _line(board: Board, units: str) -> str:
    def text(measured: Measured) -> str:
        return measured.text(units)

    state = "" if board.is_looked_over else ", NOT LOOKED OVER"
    notes = f" ({'; '.join(board.notes)})" if board.notes else ""
    return (
        f"{board.id}  {board.species}, {text(board.length)} by {text(board.widths[2].width)}"
        f"{state}{notes}"
    )
