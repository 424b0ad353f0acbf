"""The errand "look a board over": what the user says of flaws and faces goes into the lot.

The page sends operations in an outbox and repeats them until each is answered; `take_outbox` is
safe to call with the same outbox any number of times.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, get_args

from scanner.app.shape_flaws import (
    delete_flaw,
    divide_flaw,
    draw_flaw,
    find_flaw,
    join_flaws,
    kind_of,
    rename_kind,
    reshape_flaw,
    ring_of,
)
from scanner.app.tick_parts import tick
from scanner.board.flaw import FlawKind, FlawState
from scanner.errors import BoardError, LotError
from scanner.storage.journal import Answer, Stamp
from scanner.storage.lots import Action, Lot

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from scanner.board.board import Board
    from scanner.board.flaw import Flaw

Verb = Literal[
    "keep", "strike", "reopen", "look_over", "look_again", "undo", "redo",
    "draw", "reshape", "rename", "divide", "join", "delete", "tick",
]  # fmt: skip
_VERBS: tuple[Verb, ...] = get_args(Verb)
# Ids that the page makes; long enough to be unique, short enough to be a name.
_OPERATION = re.compile(r"[A-Za-z0-9-]{8,64}")
# One outbox is a person's taps within a few seconds; more is not a person.
_MOST_OPERATIONS = 500
# A 5 m board across a phone; who says nothing of how close he was gets the largest U.
_MOST_MM_PER_PX = 15.0


@dataclass(frozen=True, slots=True)
class Saying:
    """One thing the user said.

    Attributes
    ----------
    board, flaw, face
        What it is about; flaw is "" for a face, face 0 for a flaw.
    sound
        With ``keep`` on a knot: what the user said of it, None for nothing.
    kind
        With ``draw`` and ``rename``: what it is.
    ring
        Corners as seen on the face, mm; with ``divide`` both ends of the line.
    mm_per_px
        How close the user was when setting them.
    other
        With ``join``: the flaw to join with.
    part, copy, to
        With ``tick``: which part, and what became of it; ``ring`` begins with where it lay.
    """

    stamp: Stamp
    verb: Verb
    board: str = ""
    flaw: str = ""
    face: int = 0
    sound: bool | None = None
    kind: FlawKind | None = None
    ring: tuple[tuple[float, float], ...] = ()
    mm_per_px: float = 0.0
    other: str = ""
    part: str = ""
    copy: int = 0
    to: str = ""


def confirm(board: Board, flaw_id: str, sound: bool | None = None) -> Board:
    """Return the board with a flaw confirmed; ``sound`` None leaves a knot's soundness as it is."""

    def confirmed(flaw: Flaw) -> Flaw:
        state = FlawState.ADDED if flaw.state is FlawState.ADDED else FlawState.CONFIRMED
        known = flaw.sound if sound is None or flaw.kind is not FlawKind.KNOT else sound
        return replace(flaw, state=state, sound=known)

    return _with_flaw(board, flaw_id, confirmed)


def strike(board: Board, flaw_id: str) -> Board:
    """Return the board with a flaw struck: the user says it is none."""
    return _with_flaw(board, flaw_id, lambda flaw: replace(flaw, state=FlawState.STRUCK))


def reopen(board: Board, flaw_id: str) -> Board:
    """Return the board with a flaw undecided again."""
    return _with_flaw(board, flaw_id, lambda flaw: replace(flaw, state=FlawState.POSSIBLE))


def look_over(board: Board, face: int, looked_over: bool = True) -> Board:
    """Return the board with a face looked over, or not any more."""
    if face not in board.faces:
        raise BoardError(f"{board.id} has no face {face}", "choose face 1 or face 2")
    faces = {**board.faces, face: replace(board.faces[face], looked_over=looked_over)}
    return replace(board, faces=faces)


def take(lot: Lot, saying: Saying) -> Answer:
    """Carry out one saying and answer it."""
    match saying.verb:
        case "undo":
            return lot.undo(saying.stamp)
        case "redo":
            return lot.redo(saying.stamp)
        case "tick":
            copy, at = (saying.part, saying.copy), saying.ring[0] if saying.ring else (0.0, 0.0)
            return tick(lot, saying.stamp, copy, saying.board, at, saying.to)
    return lot.record(Action(saying.stamp, saying.board, _in_words(saying), _change(saying)))


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
            except (BoardError, LotError) as problem:
                answered[operation] = Answer(operation, "refused", lot.revision, str(problem))
        answers.append(answered[operation])
    return tuple(answers)


def read_outbox(outbox: object) -> tuple[Saying, ...]:
    """Return the sayings of an outbox in order; what is malformed is left out."""
    operations = outbox.get("ops") if isinstance(outbox, Mapping) else None
    if not isinstance(operations, list):
        return ()
    read = (_saying(entry) for entry in operations[:_MOST_OPERATIONS])
    return tuple(saying for saying in read if saying is not None)


def _saying(entry: object) -> Saying | None:
    if not isinstance(entry, Mapping):
        return None
    operation, client = str(entry.get("id", "")), str(entry.get("client", ""))
    base, verb = entry.get("base"), entry.get("verb")
    board, flaw = str(entry.get("board", "")), str(entry.get("flaw") or "")
    face, sound = entry.get("face") or 0, entry.get("sound")
    known_verb = next((known for known in _VERBS if known == verb), None)
    if known_verb is None or not (_OPERATION.fullmatch(operation) and _OPERATION.fullmatch(client)):
        return None
    # The browser's numbers may come as floats.
    if not isinstance(base, int | float) or not isinstance(face, int | float):
        return None
    if sound is not None and not isinstance(sound, bool):
        return None
    return Saying(
        Stamp(operation, int(base), client),
        known_verb,
        board,
        flaw,
        int(face),
        sound,
        kind_of(entry.get("kind")),
        ring_of(entry.get("ring")) or (),
        _closeness(entry.get("mm_per_px")),
        str(entry.get("other") or ""),
        str(entry.get("part") or ""),
        int(copy) if isinstance(copy := entry.get("copy"), int | float) else 0,
        str(entry.get("to") or ""),
    )


def _closeness(given: object) -> float:
    known = isinstance(given, int | float) and 0 < given < _MOST_MM_PER_PX
    return float(given) if known else _MOST_MM_PER_PX  # type: ignore[arg-type]


def _change(saying: Saying) -> Callable[[Board], Board]:
    match saying.verb:
        case "keep":
            return lambda board: confirm(board, saying.flaw, saying.sound)
        case "strike":
            return lambda board: strike(board, saying.flaw)
        case "reopen":
            return lambda board: reopen(board, saying.flaw)
        case "look_over" | "look_again":
            return lambda board: look_over(board, saying.face, saying.verb == "look_over")
    return _shaping(saying)


def _shaping(saying: Saying) -> Callable[[Board], Board]:
    name, face, ring, close = saying.flaw, saying.face, saying.ring, saying.mm_per_px
    kind = saying.kind
    match saying.verb:
        case "draw" if kind is not None:
            return lambda board: draw_flaw(board, name, kind, face, ring, close)
        case "rename" if kind is not None:
            return lambda board: rename_kind(board, name, kind)
        case "reshape":
            return lambda board: reshape_flaw(board, name, face, ring, close)
        case "divide" if len(ring) >= 2:
            return lambda board: divide_flaw(board, name, face, ring)
        case "join":
            return lambda board: join_flaws(board, name, saying.other)
        case "delete":
            return lambda board: delete_flaw(board, name)
        case "draw" | "rename" | "divide":
            raise BoardError("the page sent a drawing that is none", "draw it again")
    raise ValueError(f"{saying.verb} changes no board")


def _in_words(saying: Saying) -> str:
    """Return what undo will say it takes back."""
    match saying.verb:
        case "keep":
            return f"{saying.board}: {saying.flaw} kept as a flaw"
        case "strike":
            return f"{saying.board}: {saying.flaw} is no flaw"
        case "reopen":
            return f"{saying.board}: {saying.flaw} left open"
        case "look_over":
            return f"{saying.board}: face {saying.face} looked over"
        case "look_again":
            return f"{saying.board}: face {saying.face} to look over again"
        case "draw":
            return f"{saying.board}: a flaw drawn"
        case "reshape":
            return f"{saying.board}: {saying.flaw} reshaped"
        case "rename":
            return f"{saying.board}: {saying.flaw} is of another kind"
        case "divide":
            return f"{saying.board}: {saying.flaw} divided"
        case "join":
            return f"{saying.board}: {saying.other} joined with {saying.flaw}"
        case "delete":
            return f"{saying.board}: {saying.flaw} deleted"
    return saying.verb


def _with_flaw(board: Board, flaw_id: str, change: Callable[[Flaw], Flaw]) -> Board:
    find_flaw(board, flaw_id)
    return board.with_flaws(_each(board.flaws, flaw_id, change))


def _each(flaws: Iterable[Flaw], flaw_id: str, change: Callable[[Flaw], Flaw]) -> tuple[Flaw, ...]:
    return tuple(change(flaw) if flaw.id == flaw_id else flaw for flaw in flaws)
