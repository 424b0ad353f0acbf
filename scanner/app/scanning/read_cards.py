"""What board cards settle of a scan: which photo shows which face, and the board's name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def faces_are_exchanged(cards: Mapping[int, tuple[int, int] | None], names: Sequence[str]) -> bool:
    """Whether the cards say that the photos of face 1 and face 2 were given the wrong way round.

    Parameters
    ----------
    cards
        For each face photographed the board number and face that its card says, or None.
    names
        Of the first photo of each face.

    Raises
    ------
    PhotoError
        The cards are of two boards, or both of one face.
    """
    first, second = cards.get(1), cards.get(2)
    if first and second and first[0] != second[0]:
        raise PhotoError(
            f"{names[0]} shows the card of board {first[0]} and {names[1]} that of board"
            f" {second[0]}",
            "give the two faces of one board",
        )
    if first and second and first[1] == second[1]:
        raise PhotoError(
            f"{names[0]} and {names[1]} both show the card of face {first[1]}",
            "give one photo of each face",
        )
    if len(names) < 2:
        return False
    return (first is not None and first[1] == 2) or (second is not None and second[1] == 1)


def name_on_card(cards: Mapping[int, tuple[int, int] | None]) -> str | None:
    """Return the board's name by its card, ``B07``; None without a card."""
    numbers = [card[0] for card in cards.values() if card is not None]
    return f"B{numbers[0]:02d}" if numbers else None
