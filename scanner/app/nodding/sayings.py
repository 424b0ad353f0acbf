"""What the browser says: one thing the user did, read from an outbox that is not trusted."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from scanner.board.flaw import FlawKind
from scanner.storage.journal import Stamp

Verb = Literal[
    "keep", "strike", "reopen", "look_over", "look_again", "end_seen", "end_unseen",
    "undo", "redo",
    "draw", "reshape", "rename", "divide", "join", "delete", "tick",
    "move", "turn", "swap", "forbid", "allow", "spare", "fit",
]  # fmt: skip
_VERBS: tuple[Verb, ...] = get_args(Verb)
# Ids that the page makes; long enough to be unique, short enough to be a name.
_OPERATION = re.compile(r"[A-Za-z0-9-]{8,64}")
# One outbox is a person's taps within a few seconds; more is not a person.
_MOST_OPERATIONS = 500
_LARGEST = 1e6
# As far as a finger misses, where a window does not say.
_REACH_MM = 25.0
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
        With ``join``: the flaw to join with; with ``move``: the board to lie on; with ``swap``: the
        other part.
    to
        With ``end_seen`` and ``end_unseen``: which end.
    part, copy, to
        With ``tick``: which part, and what became of it; ``ring`` begins with where it lay. With
        what is done to a layout: which part; ``ring`` holds where it was seen, and with ``move``
        where its corner is wished, board frame; with ``swap`` where the other one was seen.
    other_copy, other_board
        With ``swap``: the rest of the other part's name, and its board.
    reach_mm
        With ``move``: how far from where it is wished the part may land.
    other, copy, other_copy, to, ring
        With ``fit``: a group's title, the number of a piece in it and of another, what is done;
        ``ring`` begins with the corner of the piece as seen, then how far it slides along x.
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
    other_copy: int = 0
    other_board: str = ""
    reach_mm: float = _REACH_MM

    @property
    def seen_at(self) -> tuple[float, float]:
        """Where the part lay that this is about, board frame, mm."""
        return self.ring[0] if self.ring else (0.0, 0.0)


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
        read_kind(entry.get("kind")),
        read_ring(entry.get("ring")) or (),
        _size(entry.get("mm_per_px"), _MOST_MM_PER_PX, _MOST_MM_PER_PX),
        str(entry.get("other") or ""),
        str(entry.get("part") or ""),
        _whole(entry.get("copy")),
        str(entry.get("to") or ""),
        _whole(entry.get("other_copy")),
        str(entry.get("other_board") or ""),
        _size(entry.get("reach"), _LARGEST, _REACH_MM),
    )


def _whole(given: object) -> int:
    return int(given) if isinstance(given, int | float) and abs(given) < _LARGEST else 0


def _size(given: object, most: float, unsaid: float) -> float:
    """Return a length or a scale that a window sent; ``unsaid`` where it sent none that can be."""
    if isinstance(given, int | float) and 0 < given < most:
        return float(given)
    return unsaid


def read_kind(word: object) -> FlawKind | None:
    """Return the kind of a word from the browser, None where there is no such kind."""
    return next((kind for kind in FlawKind if kind.value == word), None)


def read_ring(given: object) -> tuple[tuple[float, float], ...] | None:
    """Return the corners that came from a browser, None where they are none."""
    if not isinstance(given, list) or not 2 <= len(given) <= 400:
        return None
    ring = []
    for corner in given:
        if not isinstance(corner, list | tuple) or len(corner) != 2:
            return None
        if not all(isinstance(value, int | float) and math.isfinite(value) for value in corner):
            return None
        ring.append((float(corner[0]), float(corner[1])))
    return tuple(ring)
