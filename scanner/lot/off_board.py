"""Flaws drawn where a board has no wood: they count for nothing, are on no sheet, and are told."""

from collections.abc import Iterable

from shapely.geometry import Polygon

from scanner.board.board import Board
from scanner.board.flaw import CRACKS, Flaw
from scanner.placement.names_in_words import joined

_MOST_NAMED = 4


def off_board_lines(boards: Iterable[Board]) -> tuple[str, ...]:
    """Return a sentence for each board of which a flaw lies off the wood, on whatever face."""
    said = []
    for board in boards:
        off = [flaw.id for flaw in board.flaws if flaw.counts and _is_off(flaw, board)]
        if off:
            lies, it = ("lies", "it") if len(off) == 1 else ("lie", "them")
            said.append(
                f"{joined(off, _MOST_NAMED)} of {board.id} {lies} wholly off the board, so no part"
                f" keeps off {it}: draw {it} anew where the wood has {it}"
            )
    return tuple(said)


def flaws_on_wood(board: Board, face: int) -> tuple[Flaw, ...]:
    """Return the flaws of a face that count and lie on its wood: what is seen there."""
    wood = board.wood(face)
    return tuple(f for f in board.flaws_on(face) if f.counts and not _is_clear_of(wood, f, face))


def _is_off(flaw: Flaw, board: Board) -> bool:
    """Whether a flaw stays clear of the wood on every face."""
    return all(_is_clear_of(board.wood(face), flaw, face) for face in flaw.outlines)


def _is_clear_of(wood: Polygon, flaw: Flaw, face: int) -> bool:
    """Whether a flaw stays clear of the wood of a face, its give-or-take reckoned in.

    A crack that is said to reach so far in from an end does so wherever it is drawn.
    """
    if flaw.kind in CRACKS and flaw.reach_mm is not None:
        return False
    return bool(wood.distance(flaw.outlines[face]) > flaw.u_mm)
