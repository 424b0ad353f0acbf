"""The errand "what lies in the lot": one line a board, and taking a board out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.lot.open_lot import new_stamp
from scanner.app.showing.page_state import board_head, board_size, board_trust, short_notes
from scanner.board.species import UNNAMED, species_key

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot
    from scanner.storage.rows import BoardStanding


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A board in words.

    ``photos`` says in how many photos each face was taken, "" without any; ``wood`` names its
    species, "" where nobody did; ``picture`` is the stored one of face 1, None without.
    """

    id: str
    head: str
    size: str
    trust: str
    looked_over: str
    notes: tuple[str, ...]
    photos: str
    wood: str
    picture: str | None


def board_lines(lot: Lot) -> tuple[BoardLine, ...]:
    """Return the boards of a lot in words, in the order they came in."""
    units = lot.shop().units
    standings = {line.id: line for line in lot.standings()}
    return tuple(
        BoardLine(
            board.id,
            board_head(board, units),
            board_size(board, units),
            board_trust(board),
            _looked_over(standings[board.id]),
            short_notes(board),
            photos_words(board),
            "" if species_key(board.species) == UNNAMED else board.species,
            _picture(lot, board),
        )
        for board in lot.boards()
    )


def _picture(lot: Lot, board: Board) -> str | None:
    file = board.faces[1].picture
    return file if file and lot.picture(file) else None


def take_out(lot: Lot, board_id: str) -> Answer:
    """Take a board out of the lot; its photos stay, and undo brings it back.

    Raises
    ------
    LotError
        The lot has no such board.
    """
    return lot.remove_board(board_id, new_stamp(lot, "page"))


def photos_words(board: Board) -> str:
    """Return in how many photos each face was taken, and what one more would be good for."""
    counts = {number: len(face.photos) for number, face in sorted(board.faces.items())}
    if not any(counts.values()):
        return ""
    if len(set(counts.values())) == 1 and len(counts) == 2:
        words = f"{_times(counts[1]).capitalize()} of each face."
    else:
        said = [f"{_times(count)} of face {number}" for number, count in counts.items()]
        words = f"{', '.join(said).capitalize()}."
    if min(counts.values()) > 1 or board.quality == "good":
        return words
    return f"{words} Two of each face, from both long sides, tell lengths better."


def _times(count: int) -> str:
    if count == 0:
        return "no photo"
    return "one photo" if count == 1 else f"{count} photos"


def _looked_over(line: BoardStanding) -> str:
    if line.is_done:
        return "Looked over."
    if line.open_flaws:
        flaws = "possible flaw" if line.open_flaws == 1 else "possible flaws"
        return f"{line.open_flaws} {flaws} to look at."
    return "No possible flaw is open, but nobody said that both faces are looked over."
