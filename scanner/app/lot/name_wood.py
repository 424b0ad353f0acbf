"""The errand "name a board's wood": for one that was scanned without saying what it is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.lot.open_lot import new_stamp
from scanner.board.species import UNNAMED, species_key
from scanner.errors import BoardError
from scanner.storage.lots import Action

if TYPE_CHECKING:
    from scanner.storage.lots import Lot

# The end of the journal's words for it, by which the page knows what undo takes back.
NAMED = ": wood named"
_MOST_LETTERS = 60


def name_wood(lot: Lot, board_id: str, typed: str) -> None:
    """Keep what wood a board is; undo brings the former name back.

    Raises
    ------
    ScannerError
        Nothing was typed, or the word for wood that nobody named, or more than a name; or the lot
        has no such board.
    """
    species = " ".join(typed.split())
    is_none = not species or species_key(species) == UNNAMED
    if is_none or len(species) > _MOST_LETTERS:
        raise BoardError("that names no wood", "write it like white ash")
    lot.record(
        Action(
            new_stamp(lot, "page"),
            board_id,
            f"{board_id}{NAMED}",
            lambda board: replace(board, species=species),
        )
    )
