"""The errand "dry fit by hand": flip, turn, swap and slide the pieces of a group of a lot.

What changes how the wood is cut goes back into the layout and is refused, with the reason, where it
cannot be cut; which way round a piece lies that is clear on both faces is only noted.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.cutting.edit_layout import edit_layout
from scanner.app.fitting.dry_fit import (
    fit_of,
)
from scanner.app.fitting.fit_in_lot import NOTE, group_in, notes_of, placed_of
from scanner.app.lot.open_lot import new_stamp
from scanner.app.nodding.sayings import Saying
from scanner.board.assembly import WAYS, FitNotes, flipped, lie_of, turned
from scanner.errors import LotError, PlacementError
from scanner.storage.journal import Answer
from scanner.storage.values import to_document
from scanner.units import LengthError, read_length_mm

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.board.assembly import Assembly, Lie, Member
    from scanner.placement.layout import Placement
    from scanner.storage.journal import Stamp
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json

# Older words on wood that was cut long ago are let go.
_LIES_KEPT = 300
# A slid piece lands where it was wished or not at all.
_SLIDE_REACH_MM = 1.0
# A piece seen there lies there still.
_SAME_MM = 0.5


def take_fit(lot: Lot, saying: Saying) -> Answer:
    """Do to a piece of a group what a window said: slide, swap, flip or turn it.

    Raises
    ------
    ScannerError
        It cannot be cut there, or the wood seen does not lie there any more.
    """
    title, number = saying.other, saying.copy
    member = _member(group_in(lot, title)[1], number)
    if not saying.ring or math.dist(member.corner_mm, saying.ring[0]) > _SAME_MM:
        if lot.has_done(saying.stamp):
            # Sent again while it was being done.
            return Answer(saying.stamp.operation, "known", lot.revision)
        raise LotError(f"{member.title} does not lie there any more", "look at the picture again")
    match saying.to:
        case "slide" if len(saying.ring) > 1:
            return _slide_by(lot, title, number, saying.ring[1][0], saying.stamp)
        case "swap":
            return swap(lot, title, number, saying.other_copy, saying.stamp)
        case "flip":
            return flip(lot, title, number, saying.stamp)
        case "turn":
            return turn(lot, title, number, saying.stamp)
    raise LotError("the page sent what cannot be done to a piece", "look at the picture again")


def flip(lot: Lot, title: str, number: int, stamp: Stamp | None = None) -> Answer:
    """Turn a piece about its length: its other face shows.

    Raises
    ------
    ScannerError
        The other face may not show there; the sentence says what is in the way.
    """
    bench, assembly = group_in(lot, title)
    member = _member(assembly, number)
    if member.is_face_free:
        return _note_lie(lot, lie_of(flipped(member)), f"{member.title}: other face up", stamp)
    placed = placed_of(bench, member)
    # Which end lies left was said of the wood, and stays.
    noted = _noted(lot, lie_of(replace(member, face=3 - member.face)))
    return edit_layout(lot, _saying(lot, "turn", placed, stamp), noted)


def turn(lot: Lot, title: str, number: int, stamp: Stamp | None = None) -> Answer:
    """Turn a piece end for end; it is cut as before."""
    member = _member(group_in(lot, title)[1], number)
    return _note_lie(lot, lie_of(turned(member)), f"{member.title}: turned end for end", stamp)


def swap(lot: Lot, title: str, number: int, other: int, stamp: Stamp | None = None) -> Answer:
    """Let two pieces change their places in the group: each is cut where the other lay.

    Raises
    ------
    ScannerError
        One is cut already, or may not lie where the other lies.
    """
    bench, assembly = group_in(lot, title)
    one, two = (placed_of(bench, _member(assembly, n)) for n in (number, other))
    return edit_layout(lot, _swapping(lot, one, two, stamp))


def slide(lot: Lot, title: str, number: int, typed: str) -> Answer:
    """Slide a piece along its board towards end B; a length with a minus goes towards end A.

    Raises
    ------
    ScannerError
        It is no length, or the piece may not lie there.
    """
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    sign = -1.0 if text.startswith("-") else 1.0
    try:
        by = sign * read_length_mm(text.lstrip("+-"), lot.shop().units)
    except LengthError as problem:
        raise LotError(f"how far: {problem.what}", "type it like 40 mm or -40 mm") from None
    return _slide_by(lot, title, number, by)


def _slide_by(lot: Lot, title: str, number: int, by: float, stamp: Stamp | None = None) -> Answer:
    bench, assembly = group_in(lot, title)
    member = _member(assembly, number)
    placed = placed_of(bench, member)
    wish = (placed.x_mm + by, placed.y_mm)
    saying = replace(
        _saying(lot, "move", placed, stamp),
        other=placed.board,
        ring=((placed.x_mm, placed.y_mm), wish),
        reach_mm=_SLIDE_REACH_MM,
    )
    moved = lie_of(replace(member, corner_mm=(member.corner_mm[0] + by, member.corner_mm[1])))
    return edit_layout(lot, saying, _noted(lot, moved))


def put_together(lot: Lot, title: str, way: str) -> Answer:
    """Say how a group is put together.

    Raises
    ------
    LotError
        There is no such way.
    """
    if way not in WAYS:
        raise LotError(f'"{way}" is no way to put pieces together', "choose one of the list")
    notes = notes_of(lot)
    return _keep(lot, replace(notes, ways={**notes.ways, title: way}), f"{title}: {way}")


def take_proposal(lot: Lot, title: str) -> None:
    """Lay a group as it was proposed: pieces change places one after another, then turn.

    Raises
    ------
    ScannerError
        A piece may not lie where it should; what was done until then stands and can be undone.
    """
    bench, assembly = group_in(lot, title)
    match = fit_of(bench, assembly).match
    if match is None or match.gain <= 0:
        raise PlacementError(f"nothing matches better than {title} as it lies", "leave it so")
    wanted = [(m.board, m.corner_mm) for m in match.proposed.members]
    for number, wood in enumerate(wanted, 1):
        now = [(m.board, m.corner_mm) for m in group_in(lot, title)[1].members]
        at = now.index(wood) + 1 if wood in now else number
        if at != number:
            swap(lot, title, number, at)
    for number, member in enumerate(match.proposed.members, 1):
        is_now = _member(group_in(lot, title)[1], number)
        if is_now.face != member.face:
            flip(lot, title, number)
        if is_now.is_turned != member.is_turned:
            turn(lot, title, number)


def _member(assembly: Assembly, number: int) -> Member:
    if not 1 <= number <= len(assembly.members):
        raise LotError(f"{assembly.title} has no piece {number}", "look at the picture again")
    return assembly.members[number - 1]


def _saying(lot: Lot, verb: str, placed: Placement, stamp: Stamp | None = None) -> Saying:
    saying = Saying(
        stamp or new_stamp(lot, "dry-fit"),
        "turn",
        board=placed.board,
        part=placed.part,
        copy=placed.copy,
        ring=((placed.x_mm, placed.y_mm),),
    )
    return replace(saying, verb="move") if verb == "move" else saying


def _swapping(lot: Lot, one: Placement, two: Placement, stamp: Stamp | None = None) -> Saying:
    return replace(
        _saying(lot, "turn", one, stamp),
        verb="swap",
        other=two.part,
        other_copy=two.copy,
        other_board=two.board,
        ring=((one.x_mm, one.y_mm), (two.x_mm, two.y_mm)),
    )


def _note_lie(lot: Lot, lie: Lie, said: str, stamp: Stamp | None = None) -> Answer:
    return _keep(lot, _with_lie(notes_of(lot), lie), said, stamp)


def _noted(lot: Lot, lie: Lie) -> Mapping[str, Json]:
    """Return how a piece lies as the note that goes with a change of the layout."""
    return {NOTE: to_document(_with_lie(notes_of(lot), lie))}


def _with_lie(notes: FitNotes, lie: Lie) -> FitNotes:
    others = [one for one in notes.lies if (one.board, one.corner_mm) != (lie.board, lie.corner_mm)]
    return replace(notes, lies=(*others, lie)[-_LIES_KEPT:])


def _keep(lot: Lot, notes: FitNotes, said: str, stamp: Stamp | None = None) -> Answer:
    return lot.set_note(NOTE, to_document(notes), stamp or new_stamp(lot, "dry-fit"), said)
