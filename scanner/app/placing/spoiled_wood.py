"""Wood that was spoiled in the shop: no part may lie on it, in this layout and all after it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.lot.totals import SPOILED
from scanner.placement.wanted.turned import turned_shape

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scanner.board.board import Board
    from scanner.placement.layout import Layout, Placement

_REASON = "spoiled in the shop"


def spoiled_of(layout: Layout | None) -> tuple[Placement, ...]:
    """Return the placements of a layout whose wood was spoiled."""
    return tuple(p for p in layout.placements if p.state == "spoiled") if layout else ()


def with_spoiled(layout: Layout, spoiled: Iterable[Placement]) -> Layout:
    """Return the layout with what was spoiled before it, so that layouts made from it know.

    Such a placement is none of the layout's parts: no piece holds it, and nothing counts it.
    """
    there = {_key(p) for p in spoiled_of(layout)}
    gone = tuple(p for p in spoiled if _key(p) not in there)
    return replace(layout, placements=(*layout.placements, *gone))


def without_former(layout: Layout) -> Layout:
    """Return the layout without what was spoiled before it was made (see `with_spoiled`)."""
    held = {n for piece in layout.pieces for n in piece.placements}
    stay = [n for n, p in enumerate(layout.placements) if p.state != "spoiled" or n in held]
    number = {old: new for new, old in enumerate(stay)}
    pieces = tuple(
        replace(piece, placements=tuple(number[n] for n in piece.placements))
        for piece in layout.pieces
    )
    return replace(layout, placements=tuple(layout.placements[n] for n in stay), pieces=pieces)


def without_spoiled(board: Board, spoiled: Iterable[Placement]) -> Board:
    """Return the board with the wood that was spoiled on it marked as wood not to be used.

    Wood that is marked so already is not marked again.
    """
    had = [flaw.outlines for flaw in board.flaws if flaw.reason == _REASON]
    gone = [p for p in spoiled if p.board == board.id]
    shapes = [dict.fromkeys(board.faces, turned_shape(placed)) for placed in gone]
    marks = tuple(
        Flaw(
            id=f"{SPOILED} {number}",
            kind=FlawKind.MARKED,
            outlines=shape,
            is_through=True,
            state=FlawState.ADDED,
            reason=_REASON,
        )
        for number, shape in enumerate((s for s in shapes if s not in had), len(had) + 1)
    )
    return board.with_flaws((*board.flaws, *marks))


def _key(p: Placement) -> tuple[str, int, int, str, float, float]:
    return (p.part, p.copy, p.stave or 0, p.board, round(p.x_mm, 1), round(p.y_mm, 1))
