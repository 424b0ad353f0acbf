"""Rule: a part that names a species takes no other."""

from scanner.board.board import Board
from scanner.board.species import species_key
from scanner.placement.parts import Part
from scanner.placement.shop import Shop


def refusal(board: Board, part: Part, shop: Shop) -> str | None:
    """Return why the whole board is ruled out, or None."""
    if part.species and species_key(part.species) != species_key(board.species):
        return f"is {board.species}, not {part.species}"
    return None
