"""The errand "tape a board": hold a taped length against the one from the photos, and keep both."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from scanner.app.lot.open_lot import new_stamp
from scanner.app.lot.trust_test import keep_tape_proof
from scanner.board.reading import quality_by_u
from scanner.board.tape import TAPED_NOTE
from scanner.errors import BoardError
from scanner.files.typed import read_taped
from scanner.storage.lots import Action

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.board.measured import Measured
    from scanner.storage.lots import Lot


def tape(board: Board, taped: Measured, units: str) -> tuple[Board, str]:
    """Return the board with a note of its taped length, and what the note says.

    Two measurements agree when they differ by no more than both U together (root of the sum of
    squares; JCGM 100:2008, 5.1.2). A board that does not agree is good for rough sizes only; one
    that does keeps the standing that its own U gives it.
    """
    fair = math.hypot(taped.u_mm, board.length.u_mm)
    agrees = abs(taped.value_mm - board.length.value_mm) <= fair
    both = f"{TAPED_NOTE}{taped.text(units)}, by the photos {board.length.text(units)}: "
    if agrees:
        said = f"{both}they agree"
    else:
        said = (
            f"{both}they do not agree. Tape it again; if the tape is right, take this board out "
            "and scan its photos anew with the taped length"
        )
    notes = (*(note for note in board.notes if not note.startswith(TAPED_NOTE)), said)
    return replace(board, notes=notes, quality=_quality(board, agrees)), said


def tape_board(lot: Lot, board_id: str, text: str) -> str:
    """Keep a taped length with a board and return in words whether it agrees.

    Parameters
    ----------
    text
        As typed, such as ``2438`` or ``8 ft``, in the lot's units where it names none.

    Raises
    ------
    ScannerError
        The text is no length, or the lot has no such board.
    """
    units = lot.shop().units
    if not text.strip():
        raise BoardError("no length was typed", "write what the tape says, with its unit")
    taped = read_taped(text, "length by tape", units)
    _, said = tape(lot.board(board_id), taped, units)
    lot.record(
        Action(
            new_stamp(lot, "page"),
            board_id,
            f"{board_id}: taped",
            lambda board: tape(board, taped, units)[0],
        )
    )
    keep_tape_proof(lot, board_id, taped)
    return f"{said}."


def _quality(board: Board, agrees: bool) -> Literal["good", "rough"]:
    width_u = max(station.width.u_mm for station in board.widths)
    return quality_by_u(board.length, width_u) if agrees else "rough"
