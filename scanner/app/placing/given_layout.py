"""What a command is given of a layout that exists: layout.json, the parts list, the boards."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shapely import unary_union

from scanner.app.lot.given_boards import begun_lots, read_given_boards
from scanner.app.placing.place_parts import known_units
from scanner.app.placing.spoiled_wood import (
    spoiled_of,
    with_spoiled,
    without_former,
    without_spoiled,
)
from scanner.errors import PlacementError
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.placement.copy_names import names_in, names_of
from scanner.placement.layout import Offcut, Placement

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop

# A board scanned anew may lie some centimetres off where it lay: this is another board.
_OUTSIDE_MM = 50.0


@dataclass(frozen=True, slots=True)
class Given:
    """A layout with what it was made from; ``folders`` says where each board's pictures lie.

    What was ``spoiled`` is marked on the boards; of it the layout has what it holds in a piece.
    """

    layout: Layout
    parts: PartsList
    boards: tuple[Board, ...]
    shop: Shop
    folders: Mapping[str, Path]
    spoiled: tuple[Placement, ...]


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
        A file cannot be read, the layout uses a board or a part that is not given, or it has a
        part elsewhere that a lot's own journal says is cut.
    """
    unit = known_units(units)
    parts = read_parts(parts_file, unit)
    boards, folders = read_given_boards(board_files, unit)
    layout = read_layout(layout_file)
    live = without_former(layout).placements
    lacking = sorted({p.board for p in live} - {board.id for board in boards})
    if lacking:
        raise PlacementError(
            f"the layout uses board {lacking[0]}, which is not among the boards given",
            "add its board.json or its lot",
        )
    unknown = sorted({p.part for p in live} - {part.name for part in parts})
    if unknown:
        raise PlacementError(
            f"the layout holds {unknown[0]}, which is not in the parts list",
            "give the parts list that the layout was made from",
        )
    refuse_other_boards(layout, boards, parts)
    layout = _as_it_stands(layout, board_files, parts)
    spoiled = spoiled_of(layout)
    boards = tuple(without_spoiled(board, spoiled) for board in boards)
    shop = read_shop(shop_file, unit)
    return Given(without_former(layout), parts, boards, shop, folders, spoiled)


def refuse_other_boards(layout: Layout, boards: Iterable[Board], parts: PartsList = ()) -> None:
    """Refuse boards on which a layout's parts and left-overs cannot lie.

    Boards of the same names in another unit, or of another lot, would make sheets and left-overs
    of wood that is not there. ``parts``: the parts list where there is one, for the parts' names;
    else the layout says what is asked for once.

    Raises
    ------
    PlacementError
        A part or a left-over lies well outside its board.
    """
    bounds = {
        board.id: unary_union([face.outline for face in board.faces.values()]).bounds
        for board in boards
    }
    called = names_of(parts) if parts else names_in(layout)
    laid = [(called(p.part, p.copy), p.board, _corners_mm(p)) for p in layout.placements]
    laid += [("a left-over", rest.board, _corners_mm(rest)) for rest in layout.offcuts]
    for what, board, corners in laid:
        if board not in bounds:
            continue
        x0, y0, x1, y1 = bounds[board]
        if any(
            not (x0 - _OUTSIDE_MM <= x <= x1 + _OUTSIDE_MM)
            or not (y0 - _OUTSIDE_MM <= y <= y1 + _OUTSIDE_MM)
            for x, y in corners
        ):
            raise PlacementError(
                f"the layout has {what} where {board} has no wood",
                "give the boards that it was made from, with the same --units",
            )


def _corners_mm(laid: Placement | Offcut) -> list[tuple[float, float]]:
    turn = math.radians(laid.angle_deg if isinstance(laid, Placement) else 0.0)
    along, across = math.cos(turn), math.sin(turn)
    return [
        (laid.x_mm + u * along - v * across, laid.y_mm + u * across + v * along)
        for u in (0.0, laid.length_mm)
        for v in (0.0, laid.width_mm)
    ]


def _as_it_stands(layout: Layout, paths: Iterable[Path], parts: PartsList) -> Layout:
    """Return the layout with what the lots among the files say is cut and spoiled."""
    for path, ticks in begun_lots(paths):
        from scanner.storage.ticks import copy_of, is_same_place, with_ticks

        placed = {copy_of(p): p for p in layout.placements}
        astray = [
            tick for tick in ticks.cut
            if (here := placed.get(copy_of(tick))) is None or not is_same_place(here, tick)
        ]  # fmt: skip
        if astray:
            raise PlacementError(
                f"{names_of(parts)(astray[0].part, astray[0].copy)} of {path.name} is cut on"
                f" {astray[0].board}, and this layout has it elsewhere or not at all",
                "give the layout.json that the page saves, which knows what is cut",
            )
        layout = with_spoiled(with_ticks(layout, ticks), ticks.spoiled)
    return layout
