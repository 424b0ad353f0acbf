"""Boards sorted by likeness to one of them, and in words what they have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.board.likest import boards_apart, likeness_word
from scanner.board.looks import Looks, colour_apart
from scanner.board.species import species_key
from scanner.lot.colour_words import colour_beside, colour_words
from scanner.lot.same_log import samenesses

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.board import Board
    from scanner.lot.same_log import Sameness


# Small beside what any odds say.
_BY_LOOKS = 0.02
# Delta E: further apart are heart and sap.
_OTHER_WOOD = 10.0


@dataclass(frozen=True, slots=True)
class Alike:
    """A board beside the chosen one.

    Attributes
    ----------
    unlike
        0 alike, about 1 for boards of one log; None where nothing is known that could be compared.
    same
        What speaks for both coming out of one log.
    """

    board: Board
    unlike: float | None
    same: Sameness

    @property
    def word(self) -> str:
        """How like it is, in a word or two."""
        return likeness_word(self.unlike)


def is_of_kind(one: Board, other: Board) -> bool:
    """Whether two boards are of one species, so that likeness means something."""
    return species_key(one.species) == species_key(other.species)


def sorted_by_likeness(
    chosen: Board, boards: Sequence[Board], *, with_rings: bool = True
) -> tuple[Alike, ...]:
    """Return the other boards of its species, those of its log most likely first.

    Boards of which nothing is known come last.

    Parameters
    ----------
    boards
        Of the lot; the chosen one and other species are left out.
    with_rings
        Whether to hold the order of their rings side by side, see `same_log.samenesses`.
    """
    others = [board for board in boards if board.id != chosen.id and is_of_kind(chosen, board)]
    same = samenesses(
        chosen.looks or Looks(), [o.looks or Looks() for o in others], with_rings=with_rings
    )
    found = [
        Alike(board, boards_apart(chosen, board), one)
        for board, one in zip(others, same, strict=True)
    ]
    return tuple(sorted(found, key=_place))


def _place(one: Alike) -> tuple[bool, float]:
    odds = one.same.log_odds
    # Of boards that the odds do not part, the one that looks liker comes first.
    return odds is None, (one.unlike or 0.0) * _BY_LOOKS - (odds or 0.0)


def looks_words(board: Board) -> str:
    """Return what a board looks like, in words; "" where nothing is known."""
    looks = board.looks
    if looks is None:
        return ""
    said = []
    if looks.lab is not None:
        said.append(f"colour: {colour_words(looks.lab)}")
    if looks.figure is not None:
        said.append(f"{looks.figure} figure")
    if looks.ring_mm is not None:
        said.append(f"rings about {looks.ring_mm:.1f} mm apart")
    if looks.heart_face is not None:
        said.append(f"heart side by its grain face {looks.heart_face} (a guess)")
    return ", ".join(said)


def beside_words(chosen: Board, other: Board) -> str:
    """Return how a board compares with the chosen one, in words."""
    mine, theirs = chosen.looks or Looks(), other.looks or Looks()
    pair = ((chosen, mine), (other, theirs))
    said = []
    if mine.lab is not None and theirs.lab is not None:
        said.append(colour_beside(mine.lab, theirs.lab))
        is_mixed = (mine.sap_lab is None) != (theirs.sap_lab is None)
        if is_mixed and (colour_apart(mine, theirs) or 0.0) > _OTHER_WOOD:
            said.append("one is mostly sapwood?")
    else:
        unknown = [board.id for board, looks in pair if looks.lab is None]
        said.append(f"colour of {' and '.join(unknown)} not known")
    if mine.ring_mm is not None and theirs.ring_mm is not None:
        said.append(f"rings {theirs.ring_mm:.1f} against {mine.ring_mm:.1f} mm")
    if mine.figure is not None and theirs.figure is not None:
        same = mine.figure == theirs.figure
        said.append(f"both {mine.figure}" if same else f"{theirs.figure} against {mine.figure}")
    return ", ".join(said)


def rings_words(one: Alike) -> str:
    """Return in careful words that the rings match; "" where they do not, or none were read."""
    if not one.same.by_rings:
        return ""
    match = one.same.match
    return (
        f"rings run alike over about {match.rings} rings ({match.length_mm:.0f} mm): "
        "perhaps of one log, no proof"
    )


def why_words(chosen: Board, one: Alike) -> str:
    """Return how a board compares with the chosen one, its rings among it."""
    said = (beside_words(chosen, one.board), rings_words(one))
    return ", ".join(words for words in said if words)
