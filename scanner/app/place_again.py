"""The errand "place the parts again": the layout follows from what the lot holds now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.open_lot import parts_of
from scanner.app.plan_cuts import plan_cuts
from scanner.errors import PartsListError
from scanner.placement.stop import Seconds

if TYPE_CHECKING:
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
    last = lot.layout()
    keep = last.layout if last and any(p.locked for p in last.layout.placements) else None
    result = plan_cuts(boards, parts, shop, Seconds(seconds), keep=keep)
    lot.save_layout(result.layout, revision)
