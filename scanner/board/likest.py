"""Which of some boards looks most like others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.board.looks import Looks, unlikeness

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.board import Board


# In words: half of all boards of one log lie below the first, three quarters of other boards beyond
# it and half beyond the second (development lots 3000-3023).
_VERY, _RATHER = 0.75, 1.3


def likeness_word(apart: float | None) -> str:
    """Return how like two boards are, in a word or two."""
    if apart is None:
        return "looks not known"
    if apart <= _VERY:
        return "very like"
    return "rather like" if apart <= _RATHER else "unlike"


def boards_apart(one: Board, other: Board) -> float | None:
    """Return how unlike two boards look (`looks.unlikeness`), None where that is not known."""
    return unlikeness(one.looks or Looks(), other.looks or Looks())


def likest_id(chosen: Sequence[Board], boards: Sequence[Board]) -> str | None:
    """Return which of some boards is likest to any of the chosen ones, None where none tells."""
    found = [
        (apart, board.id)
        for board in boards
        for one in chosen
        if board.id != one.id and (apart := boards_apart(one, board)) is not None
    ]
    return min(found)[1] if found else None
