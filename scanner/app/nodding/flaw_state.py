"""What the page shows of a flaw: in words, and where a person sees it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.nodding.seen_face import Ring, seen_ring
from scanner.board.flaw import FlawKind, doubtful_first
from scanner.board.measured import Measured
from scanner.board.taught import UNTAUGHT
from scanner.units import length_text, size_text

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.board.flaw import Flaw
    from scanner.board.taught import Taught

# How finders write a size, and how far it may be off.
_SIZE = re.compile(
    r"(?P<long>\d+(?:\.\d+)?)(?: x (?P<wide>\d+(?:\.\d+)?))? mm\b"
    r"(?: \(give or take (?P<off>\d+)\))?"
)
_WORDS = {kind: kind.words for kind in FlawKind} | {FlawKind.MARKED: "chalk mark"}


@dataclass(frozen=True, slots=True)
class FlawView:
    """A flaw in words, and its rings by face."""

    id: str
    kind: str
    word: str
    state: str
    sound: bool | None
    drawn: bool
    sure: str
    rank: int  # the order in which a person should look at them
    where: str
    reason: str
    rings: dict[int, Ring]


def flaw_views(board: Board, units: str, taught: Taught = UNTAUGHT) -> tuple[FlawView, ...]:
    """Return the flaws of a board; each stays where it is in the list, whatever is said of it.

    ``taught`` by the nods at other boards of the lot changes how sure each is said to be, and in
    which order a person should look at them; none is left out.
    """
    scores = {flaw.id: taught.score_of(flaw) for flaw in board.flaws}
    in_order = doubtful_first(tuple(replace(flaw, score=scores[flaw.id]) for flaw in board.flaws))
    ranks = {flaw.id: rank for rank, flaw in enumerate(in_order)}
    return tuple(
        _known_view(board, flaw, ranks[flaw.id], _sure(flaw.score, scores[flaw.id]), units)
        for flaw in board.flaws
    )


# A tap changes one flaw of a lot: storage hands the others out again as the same objects, and so
# does this. What a view was made of is kept with it, so that its identity means the same for ever.
_MOST_KNOWN = 8000
_known: dict[tuple[int, int, str, str], tuple[Flaw, object, FlawView]] = {}


def _known_view(board: Board, flaw: Flaw, rank: int, sure: str, units: str) -> FlawView:
    key = (id(flaw), id(board.faces), str(board.turned), units)
    kept = _known.get(key)
    if kept is None:
        if len(_known) >= _MOST_KNOWN:
            _known.clear()
        kept = (flaw, board.faces, _flaw_view(board, flaw, rank, sure, units))
        _known[key] = kept
    view = kept[2]
    return view if (view.rank, view.sure) == (rank, sure) else replace(view, rank=rank, sure=sure)


def _flaw_view(board: Board, flaw: Flaw, rank: int, sure: str, units: str) -> FlawView:
    return FlawView(
        id=flaw.id,
        kind=flaw.kind.value,
        word=_word(flaw),
        state=flaw.state.value,
        sound=flaw.sound,
        drawn=flaw.score is None,
        sure=sure,
        rank=rank,
        where=_where(board, flaw, units),
        reason=_SIZE.sub(lambda found: _size_in(found, units), flaw.reason or ""),
        rings={
            number: seen_ring(board, number, shape)
            for number, shape in flaw.outlines.items()
            if not shape.is_empty
        },
    )


def flaw_words() -> dict[str, str]:
    """Return the kinds of flaw and what they are called."""
    return {kind.value: word for kind, word in _WORDS.items()}


def _word(flaw: Flaw) -> str:
    word = _WORDS[flaw.kind]
    if flaw.kind is FlawKind.KNOT and flaw.sound is not None:
        word = f"{'sound' if flaw.sound else 'loose'} {word}"
    return word


def _sure(score: float | None, in_this_lot: float | None) -> str:
    """Return how sure the finder is, in words; the steps are for reading, not measured."""
    if score is None or in_this_lot is None:
        return "drawn by you"
    alone, here = _sure_word(score), _sure_word(in_this_lot)
    return here if here == alone else f"{here}, by your nods"


def _sure_word(score: float) -> str:
    if score >= 0.8:
        return "clearly seen"
    return "less clearly seen" if score >= 0.5 else "doubtful"


def _size_in(found: re.Match[str], units: str) -> str:
    """Return a size that a finder wrote in mm as the lot writes sizes."""
    long, wide, off = found["long"], found["wide"], found["off"]
    if wide is not None:
        return size_text(float(long), float(wide), units)
    if units != "inch":
        return found[0]
    give = f" (give or take {length_text(float(off), units)})" if off else ""
    return f"{length_text(float(long), units)}{give}"


def _extent(size: Measured, units: str) -> str:
    """Return a size; of what is smaller than its U, how much it is at most."""
    if size.value_mm < size.u_mm:
        return f"up to {length_text(size.value_mm + size.u_mm, units)}"
    return size.text(units)


def _where(board: Board, flaw: Flaw, units: str) -> str:
    shapes = [flaw.outlines[number] for number in sorted(flaw.outlines)]
    if not shapes:
        return ""
    x0, y0, x1, y1 = shapes[0].bounds
    u_scale = max(face.u_scale for face in board.faces.values())
    begin = Measured(max(x0, 0.0), math.hypot(flaw.u_mm, u_scale * x0))
    long = Measured(x1 - x0, flaw.u_mm * math.sqrt(2))
    across = Measured(y1 - y0, flaw.u_mm * math.sqrt(2))
    faces = " and ".join(str(number) for number in sorted(flaw.outlines))
    name = "Faces" if len(shapes) > 1 else "Face"
    through = ", comes through" if flaw.is_through else ""
    return (
        f"{name} {faces}{through}, {begin.text(units)} from end A; "
        f"{_extent(long, units)} long, {_extent(across, units)} wide."
    )
