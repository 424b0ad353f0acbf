"""The errand "take what a window sent": each thing the user did goes into the lot, once.

The page sends operations in an outbox and repeats them until each is answered; `take_outbox` is
safe to call with the same outbox any number of times.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.cutting.edit_layout import edit_layout
from scanner.app.cutting.tick_parts import tick
from scanner.app.nodding.review_flaws import say_of_board
from scanner.app.nodding.sayings import read_outbox
from scanner.errors import ScannerError
from scanner.storage.journal import Answer

if TYPE_CHECKING:
    from scanner.app.nodding.sayings import Saying
    from scanner.storage.lots import Lot


def take(lot: Lot, saying: Saying) -> Answer:
    """Carry out one saying and answer it."""
    match saying.verb:
        case "undo":
            return lot.undo(saying.stamp)
        case "redo":
            return lot.redo(saying.stamp)
        case "tick":
            copy = (saying.part, saying.copy)
            return tick(lot, saying.stamp, copy, saying.board, saying.seen_at, saying.to)
        case "move" | "turn" | "swap" | "forbid" | "allow" | "spare":
            return edit_layout(lot, saying)
        case "fit":
            # Only now: laying wood together loads what pictures need.
            from scanner.app.fitting.fit_by_hand import take_fit

            return take_fit(lot, saying)
    return say_of_board(lot, saying)


def take_outbox(lot: Lot, outbox: object, answered: dict[str, Answer]) -> tuple[Answer, ...]:
    """Carry out what a window sent and was not answered yet.

    Parameters
    ----------
    outbox
        As it came from the browser, not trusted: ``{"ops": [{"id", "client", "base", "verb",
        "board", "flaw", "face", "sound"}]}``.
    answered
        Answers by operation, filled in here. The journal knows what was done; this also knows what
        was answered with "nothing" or "stale", which must not come alive when it is sent again.
    """
    answers = []
    for saying in read_outbox(outbox):
        operation = saying.stamp.operation
        if operation not in answered:
            try:
                answered[operation] = take(lot, saying)
            except ScannerError as problem:
                answered[operation] = Answer(operation, "refused", lot.revision, str(problem))
        answers.append(answered[operation])
    return tuple(answers)
