"""The errand "place the parts again": the layout follows from what the lot holds now."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.open_lot import parts_of
from scanner.app.page_state import ground
from scanner.app.plan_cuts import plan_cuts
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.errors import PartsListError
from scanner.placement.stop import Seconds
from scanner.storage.ticks import copy_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scanner.board.board import Board
    from scanner.placement.layout import Placement
    from scanner.storage.lots import Lot


def plan_lot(lot: Lot, seconds: float) -> None:
    """Place the parts on the boards as they stand now and keep the layout.

    Raises
    ------
    ScannerError
        There is no board, no parts list, or they do not go together.
    """
    revision = lot.revision
    boards, parts, shop = lot.boards(), parts_of(lot), lot.shop()
    if not parts:
        raise PartsListError("there is no parts list yet", "add one, then place the parts")
    last, ticks = lot.layout(), lot.ticks()
    keep = None
    if last is not None:
        # What is only planned comes along: it stays where nothing is gained by another place.
        staying = {copy_of(tick) for tick in ticks.staying}
        planned = [
            p
            for p in last.layout.placements
            if p.state == "planned" and not p.locked and copy_of(p) not in staying
        ]
        keep = replace(last.layout, placements=(*ticks.staying, *planned), pieces=(), cuts=())
    boards = tuple(without_spoiled(board, ticks.spoiled) for board in boards)
    result = plan_cuts(boards, parts, shop, Seconds(seconds), keep=keep)
    lot.save_layout(result.layout, revision)


def without_spoiled(board: Board, spoiled: Iterable[Placement]) -> Board:
    """Return the board with the wood that was spoiled on it marked as wood not to be used."""
    marks = tuple(
        Flaw(
            id=f"spoiled {number}",
            kind=FlawKind.MARKED,
            outlines=dict.fromkeys(board.faces, ground(placed)),
            is_through=True,
            state=FlawState.ADDED,
            reason="spoiled in the shop",
        )
        for number, placed in enumerate(spoiled, 1)
        if placed.board == board.id
    )
    return board.with_flaws((*board.flaws, *marks))
