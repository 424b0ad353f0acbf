"""The errand "look a board over": what the user says of flaws and faces goes into the lot."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.nodding.shape_flaws import (
    delete_flaw,
    divide_flaw,
    draw_flaw,
    find_flaw,
    join_flaws,
    rename_kind,
    reshape_flaw,
)
from scanner.board.flaw import FlawKind, FlawState
from scanner.errors import BoardError
from scanner.storage.lots import Action

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from scanner.app.nodding.sayings import Saying
    from scanner.board.board import Board
    from scanner.board.flaw import Flaw
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot


def say_of_board(lot: Lot, saying: Saying) -> Answer:
    """Carry out what was said of a board, its faces, ends and flaws."""
    return lot.record(Action(saying.stamp, saying.board, _in_words(saying), _change(saying)))


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


def see_end(board: Board, end: str, seen: bool = True) -> Board:
    """Return the board with an end looked at, or not any more: a seen end loses less."""
    if end not in board.ends:
        raise BoardError(f"{board.id} has no end {end}", "choose end A or end B")
    ends = {**board.ends, end: replace(board.ends[end], looked_over=seen)}
    return replace(board, ends=ends)


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
        case "end_seen" | "end_unseen":
            return lambda board: see_end(board, saying.to, saying.verb == "end_seen")
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
        case "end_seen":
            return f"{saying.board}: end {saying.to} looked at"
        case "end_unseen":
            return f"{saying.board}: end {saying.to} to look at again"
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
