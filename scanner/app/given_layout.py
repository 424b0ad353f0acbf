"""What a command is given of a layout that exists: layout.json, the parts list, the boards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.given_boards import read_given_boards
from scanner.app.place_parts import known_units
from scanner.errors import PlacementError
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop


@dataclass(frozen=True, slots=True)
class Given:
    """A layout with what it was made from; ``folders`` says where each board's pictures lie."""

    layout: Layout
    parts: PartsList
    boards: tuple[Board, ...]
    shop: Shop
    folders: Mapping[str, Path]


def read_given(
    layout_file: Path,
    parts_file: Path,
    board_files: tuple[Path, ...],
    shop_file: Path | None = None,
    units: str = "mm",
) -> Given:
    """Return what the files hold.

    Raises
    ------
    ScannerError
        A file cannot be read, or the layout uses a board or a part that is not given.
    """
    unit = known_units(units)
    parts = read_parts(parts_file, unit)
    boards, folders = read_given_boards(board_files, unit)
    layout = read_layout(layout_file)
    lacking = sorted({p.board for p in layout.placements} - {board.id for board in boards})
    if lacking:
        raise PlacementError(
            f"the layout uses board {lacking[0]}, which is not among the boards given",
            "add its board.json or its lot",
        )
    unknown = sorted({p.part for p in layout.placements} - {part.name for part in parts})
    if unknown:
        raise PlacementError(
            f"the layout holds {unknown[0]}, which is not in the parts list",
            "give the parts list that the layout was made from",
        )
    return Given(layout, parts, boards, read_shop(shop_file, unit), folders)
