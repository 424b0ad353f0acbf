"""Boards and parts as one problem of whole numbers."""

from collections.abc import Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.placement.clear_ground import Ground, Stretches, ground_of
from scanner.placement.items import Types, types_of
from scanner.placement.parts import Part
from scanner.placement.sets import MatchedSet
from scanner.placement.shop import Shop


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """All that the search needs."""

    types: Types
    grounds: tuple[Ground, ...]
    shop: Shop


def problem_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    wanted: Sequence[int],
    shop: Shop,
    taken: Stretches | None = None,
    sets: Sequence[MatchedSet] = (),
) -> Problem:
    """Return boards, parts and sets as arrays; ``taken`` stretches are no longer to be had."""
    types = types_of(parts, wanted, shop, sets)
    grounds = tuple(ground_of(b, types, shop, (taken or {}).get(b.id, ())) for b in boards)
    return Problem(types, grounds, shop)
