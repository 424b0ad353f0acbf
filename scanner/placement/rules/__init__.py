"""The placement rules, in the order they are asked.

A rule is one module: ``zones(board, part, shop, show_face)`` gives ground a part may not take,
``refusal(board, part, shop)`` rules a whole board out. To add one, write it and name it here.
"""

from collections.abc import Callable
from dataclasses import replace

from scanner.board.board import Board
from scanner.placement.parts import Part
from scanner.placement.rules import (
    end_trim,
    flaws,
    follow,
    only_boards,
    sapwood,
    species,
    straight_grain,
    thickness,
    wood,
)
from scanner.placement.rules.ground import Where, Zone
from scanner.placement.shop import Shop

GroundRule = Callable[[Board, Part, Shop, int | None], tuple[Zone, ...]]
BoardRule = Callable[[Board, Part, Shop], str | None]

GROUND_RULES: tuple[GroundRule, ...] = (
    wood.zones,
    end_trim.zones,
    flaws.zones,
    straight_grain.zones,
    sapwood.zones,
    thickness.zones,
)
BOARD_RULES: tuple[BoardRule, ...] = (
    only_boards.refusal,
    species.refusal,
    follow.refusal,
    straight_grain.refusal,
    thickness.refusal,
)


def zones_of(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return all ground of a board that a part, shown on this face, may not take."""
    zones = tuple(zone for rule in GROUND_RULES for zone in rule(board, part, shop, show_face))
    if part.outline_mm is None:
        return zones
    # A curved part has no long edge that could carry wane, nor an arris that runs straight.
    return tuple(replace(zone, where=Where.ALL) for zone in zones)


def need_of(board: Board, part: Part) -> object:
    """Return what decides the ground of a board that a part may take, but for size and show face.

    Parts of one need have the same zones, whatever else they ask.
    """
    # Only wood that was seen again and measured tells thick parts from thin ones.
    thick = part.thickness_mm if any(one.thickness for one in board.pieces) else None
    is_curved = part.outline_mm is not None
    return part.faces, part.max_knot_mm, part.sapwood, part.straight_grain, is_curved, thick


def refusal_of(board: Board, part: Part, shop: Shop) -> str | None:
    """Return why a part cannot come from a board at all, or None."""
    return next((why for rule in BOARD_RULES if (why := rule(board, part, shop))), None)
