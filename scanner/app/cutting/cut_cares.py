"""The errand "which saw for which cut": each cut of a board, its saw and what may jump there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import parts_of
from scanner.errors import LotError
from scanner.lot.saws import MEANS, cut_cares, mind_text
from scanner.placement.giving.sizes import parts_as_made
from scanner.sheets.cut_list import cut_rows
from scanner.sheets.tape import hooked_edge
from scanner.sheets.words import by_name, unit_name

if TYPE_CHECKING:
    from scanner.lot.saws import Danger
    from scanner.storage.lots import Lot


@dataclass(frozen=True, slots=True)
class CutLine:
    """A cut in words, the saw that suits it, and what to mind there: "" for nothing known."""

    said: str
    saw: str
    mind: str


@dataclass(frozen=True, slots=True)
class BoardCares:
    """The cuts of a board in sawing order; ``means`` explains each danger beside one of them."""

    board: str
    cuts: tuple[CutLine, ...]
    means: tuple[str, ...]


def boards_with_cuts(lot: Lot) -> tuple[str, ...]:
    """Return the boards that the lot's newest layout cuts, in the order of the lot."""
    saved = lot.layout()
    cut = set() if saved is None else {line.board for line in saved.layout.cuts}
    return tuple(board.id for board in lot.boards() if board.id in cut)


def cares_of(lot: Lot, board_id: str) -> BoardCares:
    """Return the cuts of a board of the lot's newest layout with what each wants.

    Raises
    ------
    LotError
        The layout cuts no such board.
    """
    layout, shop = newest_layout(lot).layout, lot.shop()
    if board_id not in boards_with_cuts(lot):
        raise LotError(f"the layout does not cut {board_id}", "choose a board that it cuts")
    board = lot.board(board_id)
    parts = by_name(parts_as_made(parts_of(lot), layout.placements, shop))
    cares = {care.order: care for care in cut_cares(layout, board, shop)}
    unit = unit_name(shop.units)
    lines: list[CutLine] = []
    dangers: list[Danger] = []
    for row in cut_rows(layout, board, parts, hooked_edge(board), shop.units):
        if row.order is None:
            # Curves of a nest, sawn apart after milling: no straight cut, no care of its own.
            continue
        care = cares[row.order]
        dangers += [mind.danger for mind in care.minds]
        lines.append(
            CutLine(
                f"{row.order}. {row.kind} at {row.at} {unit}, piece {row.piece}: {row.text}",
                care.saw,
                mind_text(care.minds, most=len(care.minds)),
            )
        )
    means = tuple(f"{one.value}: {MEANS[one]}" for one in dict.fromkeys(dangers))
    return BoardCares(board_id, tuple(lines), means)
