"""The errand "place the parts again": the layout follows from what the lot holds now."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.placing.follow_grain import with_grain
from scanner.app.placing.plan_cuts import plan_cuts
from scanner.app.placing.spoiled_wood import without_spoiled
from scanner.errors import PartsListError, PlacementError
from scanner.placement.copy_names import copy_name
from scanner.placement.layout import SAWN_OUT, STILL_WOOD
from scanner.placement.validator.dropped import dropped_objections
from scanner.storage.ticks import copy_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop
    from scanner.placement.stop import Stop
    from scanner.storage.lots import Lot


@dataclass(frozen=True, slots=True)
class Task:
    """What a search begins with; ``keep`` is the layout it goes on from."""

    boards: tuple[Board, ...]
    parts: PartsList
    shop: Shop
    keep: Layout | None


def task_of(lot: Lot, parts: PartsList) -> Task:
    """Return what a search for these parts begins with, as the lot stands now.

    Raises
    ------
    ScannerError
        There is no parts list, or a part that is to stay may not lie where it lies any more.
    """
    if not parts:
        raise PartsListError("there is no parts list yet", "add one, then place the parts")
    shop, last, ticks = lot.shop(), lot.layout(), lot.ticks()
    boards = tuple(without_spoiled(board, ticks.spoiled) for board in lot.boards())
    _refuse_stale(ticks.staying, boards, parts, shop)
    grained = with_grain(boards, parts, lambda board, face: _picture_of(lot, board, face))
    if last is None:
        return Task(grained, parts, shop, None)
    # What is only planned comes along: it stays where nothing is gained by another place.
    staying = {copy_of(tick) for tick in ticks.staying}
    planned = [
        replace(p, state="planned", locked=False)
        for p in last.layout.placements
        if p.state in STILL_WOOD and copy_of(p) not in staying
    ]
    keep = replace(last.layout, placements=(*ticks.staying, *planned), pieces=(), cuts=())
    return Task(grained, parts, shop, keep)


def _picture_of(lot: Lot, board: Board, face: int) -> Path | None:
    name = board.faces[face].picture
    return lot.picture(name) if name else None


def plan_lot(lot: Lot, stop: Stop, on_better: Callable[[Layout], None] | None = None) -> None:
    """Place the parts on the boards as they stand now and keep the layout.

    Raises
    ------
    ScannerError
        There is no board, no parts list, they do not go together, or a part that is to stay may
        not lie where it lies any more.
    """
    revision = lot.revision
    task = task_of(lot, asked_parts(lot))
    result = plan_cuts(
        task.boards, task.parts, task.shop, stop, keep=task.keep, on_better=on_better
    )
    lot.save_layout(result.layout, revision)


def _refuse_stale(
    staying: Iterable[Placement], boards: Iterable[Board], parts: PartsList, shop: Shop
) -> None:
    """Refuse to place around a part that is said to stay where it may not lie any more."""
    board_of = {board.id: board for board in boards}
    part_of = {part.name: part for part in parts}
    for tick in staying:
        known = tick.board in board_of and tick.part in part_of
        if tick.state in SAWN_OUT or not known:
            continue
        board, part = board_of[tick.board], part_of[tick.part]
        wrong = next((one.words for one in dropped_objections(tick, (), part, board, shop)), None)
        if wrong is not None:
            raise PlacementError(
                f"{copy_name(tick.part, tick.copy, part)} is to stay where it lies on {tick.board},"
                f" but it {wrong}",
                "let it go on the layout, or move it",
            )
