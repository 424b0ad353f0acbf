"""What is asked for in all: the parts list, and what was said on the layout itself."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.lot.open_lot import parts_of
from scanner.placement.copy_names import copy_name

if TYPE_CHECKING:
    from scanner.placement.parts import PartsList
    from scanner.storage.hand_rules import HandRules
    from scanner.storage.lots import Lot


def asked_parts(lot: Lot) -> PartsList:
    """Return the parts list of the lot with what was said on the layout; empty without a list."""
    return with_hand_rules(parts_of(lot), lot.hand_rules())


def called(lot: Lot, name: str, copy: int) -> str:
    """Return what a copy of a part of the lot is called, as on its board's map."""
    row = next((part for part in asked_parts(lot) if part.name == name), None)
    return copy_name(name, copy, row)


def with_hand_rules(parts: PartsList, rules: HandRules) -> PartsList:
    """Return the parts kept off the boards that were ruled out, with the spares reserved."""
    return tuple(
        replace(
            part,
            not_boards=(
                *part.not_boards,
                *(
                    board
                    for name, board in rules.forbidden
                    if name == part.name and board not in part.not_boards
                ),
            ),
            spares=part.spares + rules.spares.get(part.name, 0),
        )
        for part in parts
    )
