"""Boards and parts as one problem of whole numbers."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from scanner.board.board import Board
from scanner.placement.ground.clear_ground import Ground, Stretches, ground_of
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import ROW_HEIGHTS, Floats, Types, types_of
from scanner.placement.wanted.sets import MatchedSet


class Grounds:
    """The clear ground of each board, found when it is first asked for.

    So in a large lot the first parts lie before the last board was looked at. A first look finds
    the ground of a few types only, which is far quicker.
    """

    def __init__(self, boards: int, find: Callable[[int, Collection[int] | None], Ground]) -> None:
        self._known: list[Ground | None] = [None] * boards
        self._looked: list[Ground | None] = [None] * boards
        self._find = find

    def __len__(self) -> int:
        return len(self._known)

    def __getitem__(self, board: int) -> Ground:
        ground = self._known[board]
        if ground is None:
            ground = self._known[board] = self._find(board, None)
            self._looked[board] = None
        return ground

    def look_at(self, board: int, types: Collection[int]) -> Ground:
        """Return a board's ground, that of these types at least."""
        ground = self._known[board]
        if ground is None:
            ground = self._looked[board] = self._find(board, types)
        return ground

    def at_hand(self, board: int) -> Ground:
        """Return the ground that was found last, the whole one where none was."""
        return self._known[board] or self._looked[board] or self[board]

    def __iter__(self) -> Iterator[Ground]:
        return (self[board] for board in range(len(self)))


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """All that the search needs; ``area`` (B,) is the gross area of each board, mm2."""

    types: Types
    boards: tuple[Board, ...]
    area: Floats
    grounds: Grounds
    shop: Shop


def problem_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    wanted: Sequence[int],
    shop: Shop,
    taken: Stretches | None = None,
    sets: Sequence[MatchedSet] = (),
    row_heights: Sequence[int] = ROW_HEIGHTS,
) -> Problem:
    """Return boards, parts and sets as arrays; ``taken`` stretches are no longer to be had."""
    types = types_of(parts, wanted, shop, sets, row_heights)

    def find(b: int, only: Collection[int] | None) -> Ground:
        return ground_of(boards[b], types, shop, (taken or {}).get(boards[b].id, ()), only)

    area = np.array([board.wood(1).area for board in boards], np.float64)
    return Problem(types, tuple(boards), area, Grounds(len(boards), find), shop)
