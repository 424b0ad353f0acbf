"""The errand "say it in short": the lines that commands print of boards and layouts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.lot import totals
from scanner.lot.money import money_lines

if TYPE_CHECKING:
    from scanner.app.placing.plan_cuts import PlanResult
    from scanner.board.board import Board


def board_lines(board: Board, units: str = "mm") -> tuple[str, ...]:
    """Return length ± U, width, flaws by kind and face, and board feet of one board."""
    return totals.board_lines(totals.board_totals([board])[0], units)


def plan_lines(plan: PlanResult) -> tuple[str, ...]:
    """Return what was placed, what was not and why, yield, waste, board feet, money and notes."""
    return (
        *totals.layout_lines(totals.layout_totals(plan.layout)),
        *(money_lines(plan.money) if plan.money else ()),
        *(f"  note: {note}" for note in plan.advice),
    )
