"""Which boards of a lot look alike, as kept with the boards: no picture is looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.lot.asked_parts import asked_parts, called
from scanner.board.species import species_key
from scanner.lot.alike import looks_words, sorted_by_likeness, why_words

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.lot.alike import Alike
    from scanner.storage.lots import Lot

# How much photographs of one board differ: tests.bench.colours, rendered boards.
ROUGH = (
    "Colours are of the rough faces as they lie: plane or wet a patch of each before you glue. "
    "A step of 1 is the least that the eye tells apart (CIELAB); photographs of one board in other "
    "light differ by 2 or 3 steps themselves, at times by 5."
)
# tests.bench.likeness: in rendered lots of five logs, four boards each, a board of the same log
# came first for about half to two thirds of the boards (tests/bench/PROOF.md holds the figure).
HALF = (
    "Where a lot holds other boards of the same log, one of them comes first only about half the "
    "time, or a little more where rings could be read: let it choose which to hold side by side, "
    "and believe your eyes."
)
# Enough to choose among, few enough to carry to the window.
_SECONDS = 2


@dataclass(frozen=True, slots=True)
class AlikeLine:
    """One board of a list sorted by likeness: its name, how like it is, and by what."""

    id: str
    word: str
    words: str


def line_of(chosen: Board, one: Alike) -> AlikeLine:
    """Return how a board compares with the chosen one, in words."""
    return AlikeLine(one.board.id, one.word, why_words(chosen, one))


def alike_in_lot(lot: Lot, board_id: str) -> tuple[AlikeLine, ...]:
    """Return a lot's other boards of one species, the likest first, as kept with the boards.

    Quick: no picture is looked at. Boards scanned before looks were kept come last.
    """
    chosen = lot.board(board_id)
    return tuple(line_of(chosen, one) for one in sorted_by_likeness(chosen, lot.boards()))


def boards_with_fellows(lot: Lot) -> tuple[str, ...]:
    """Return the boards that have another one of their species in the lot."""
    kinds = [(board.id, species_key(board.species)) for board in lot.boards()]
    names = [kind for _, kind in kinds]
    return tuple(id for id, kind in kinds if names.count(kind) > 1)


def board_looks_words(lot: Lot, board_id: str) -> str:
    """Return what a board looks like in words, "" where nothing is known."""
    return looks_words(lot.board(board_id))


def second_board_words(lot: Lot, *, with_sets: bool = True) -> tuple[str, ...]:
    """Return where to look for more of the same wood: for each spoiled part and matched set.

    A spoiled part is spoken of first; a set that lies on several boards is held against its first.
    Only boards whose looks are known are named.
    """
    boards = {board.id: board for board in lot.boards()}
    said = []
    for gone in lot.ticks().spoiled:
        likest = _likest(boards, gone.board)
        if likest:
            said.append(
                f"{called(lot, gone.part, gone.copy)} was spoiled on {gone.board}. "
                f"After {gone.board} itself, most like it: {likest}."
            )
    saved = lot.layout()
    if saved is None or not with_sets:
        return tuple(said)
    for name, members in _sets(lot).items():
        on = sorted({one.board for one in saved.layout.placements if one.part in members})
        likest = _likest(boards, on[0], tuple(on)) if on else ""
        if likest:
            said.append(
                f"The set {name} comes out of {' and '.join(on)}. If {on[0]} does not hold, most "
                f"like it: {likest}."
            )
    return tuple(said)


def _likest(boards: dict[str, Board], to: str, but: tuple[str, ...] = ()) -> str:
    chosen = boards.get(to)
    if chosen is None:
        return ""
    # Looks only: this is said on pages that must not wait for rings to be matched.
    found = sorted_by_likeness(chosen, tuple(boards.values()), with_rings=False)
    known = [one for one in found if one.unlike is not None and one.board.id not in but]
    return ", then ".join(
        f"{one.board.id} ({one.word}: {why_words(chosen, one)})" for one in known[:_SECONDS]
    )


def _sets(lot: Lot) -> dict[str, tuple[str, ...]]:
    """Return the parts of each matched set by the set's name, in the list's order."""
    found: dict[str, tuple[str, ...]] = {}
    for part in asked_parts(lot):
        if part.match:
            name = part.match.partition(":")[0]
            found[name] = (*found.get(name, ()), part.name)
    return found
