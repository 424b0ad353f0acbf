"""The errand "say it in short": the lines that commands print of boards and layouts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.lot import totals

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.placement.layout import Layout


def board_lines(board: Board, units: str = "mm") -> tuple[str, ...]:
    """Return length ± U, width, flaws by kind and face, and board feet of one board."""
    return totals.board_lines(totals.board_totals([board])[0], units)


def layout_lines(layout: Layout) -> tuple[str, ...]:
    """Return what was placed, what was not and why, yield, waste and board feet."""
    return totals.layout_lines(totals.layout_totals(layout))
