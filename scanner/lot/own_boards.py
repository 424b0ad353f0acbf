"""Boards drawn from the user's own, for asking "how much to buy of wood like mine?"."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from scanner.board.board import Board
from scanner.board.species import species_key
from scanner.board.volume import quarters_of
from scanner.lot.need import Need


def boards_like(boards: Iterable[Board], need: Need) -> tuple[Board, ...]:
    """Return the boards that could be bought for a need: of its species and thickness class."""
    return tuple(
        board
        for board in boards
        if quarters_of(board.thickness.value_mm) == need.quarters
        and (need.species is None or species_key(board.species) == need.species)
    )


def draw_own(boards: Sequence[Board], rng: np.random.Generator, id: str) -> Board:
    """Return one of the boards, any as likely as another, under a name of its own.

    Drawn with replacement: a lot like these boards (B. Efron, Annals of Statistics 7, 1979).
    """
    return replace(boards[int(rng.integers(len(boards)))], id=id)
