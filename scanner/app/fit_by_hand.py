"""The errand "dry fit by hand": flip, turn, swap and slide the pieces of a group of a lot.

What changes how the wood is cut goes back into the layout and is refused, with the reason, where it
cannot be cut; which way round a piece lies that is clear on both faces is only noted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.asked_parts import asked_parts
from scanner.app.dry_fit import (
    PNG_WIDTH,
    bench_from,
    content_of,
    fit_of,
    group_named,
    price_of_match,
    sheet_files,
    stem_of,
)
from scanner.app.edit_layout import edit_layout
from scanner.app.fit_drawn import PieceDrawn, drawn
from scanner.app.open_lot import new_stamp
from scanner.app.save_maps import paper_of
from scanner.app.sayings import Saying
from scanner.board.assembly import WAYS, FitNotes, flipped, laid_as, lie_of, turned
from scanner.errors import LotError, PlacementError
from scanner.sheets.assembled import picture_page
from scanner.sheets.png import page_image, png_bytes
from scanner.storage.journal import Answer
from scanner.storage.ticks import copy_of
from scanner.storage.values import DocumentError, from_document, to_document
from scanner.units import LengthError, length_text, read_length_mm

if TYPE_CHECKING:
    from scanner.app.dry_fit import Bench
    from scanner.board.assembly import Assembly, Lie, Member
    from scanner.placement.layout import Placement
    from scanner.storage.journal import Stamp
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json

NOTE = "dry-fit"
_PRICE_NOTE = "match-price"
# Older words on wood that was cut long ago are let go.
_LIES_KEPT = 300
# A slid piece lands where it was wished or not at all.
_SLIDE_REACH_MM = 1.0
# A piece seen there lies there still.
_SAME_MM = 0.5


@dataclass(frozen=True, slots=True)
class PieceLine:
    """A piece of a group, in words; ``may_flip`` where its other face may show."""

    number: int
    title: str
    where: str
    lies: str
    may_flip: bool
    is_cut: bool


@dataclass(frozen=True, slots=True)
class FitView:
    """A group as the page shows it; ``drawn`` are its pieces in the same order as ``pieces``."""

    title: str
    way: str
    pieces: tuple[PieceLine, ...]
    drawn: tuple[PieceDrawn, ...]
    size: tuple[float, float]
    hints: tuple[str, ...]
    has_proposal: bool


def notes_of(lot: Lot) -> FitNotes:
    """Return what was said of the lot's dry fit."""
    document = lot.note(NOTE)
    if document is None:
        return FitNotes()
    try:
        return from_document(FitNotes, document)
    except DocumentError:
        return FitNotes()


def group_titles(lot: Lot) -> tuple[str, ...]:
    """Return the names of the groups of the lot's newest layout; none without a layout."""
    return () if lot.layout() is None else tuple(g.title for g in _bench(lot).groups())


def way_names() -> tuple[str, ...]:
    """Return the ways in which a group may be put together."""
    return WAYS


def fit_view(lot: Lot, title: str) -> FitView:
    """Return a group, drawn and in words.

    Raises
    ------
    PlacementError
        There is no layout, or no such group.
    """
    bench, assembly = _group(lot, title)
    fit = fit_of(bench, assembly)
    placed = zip(assembly.members, assembly.places(), strict=True)
    return FitView(
        title,
        assembly.way,
        tuple(_line(n, m, bench.shop.units) for n, m in enumerate(assembly.members, 1)),
        tuple(drawn(bench, member, place, _placed(bench, member)) for member, place in placed),
        assembly.size_mm,
        fit.hints,
        # What is cut changes no place any more.
        has_proposal=fit.match is not None
        and fit.match.gain > 0
        and not any(member.is_cut for member in assembly.members),
    )


def _line(number: int, member: Member, units: str) -> PieceLine:
    end = "end B" if member.is_turned else "end A"
    return PieceLine(
        number,
        member.title,
        f"{member.board}, {length_text(member.corner_mm[0], units)} from end A",
        f"face {member.face} up, {end} at the left",
        may_flip=len(member.may_show) > 1,
        is_cut=member.is_cut,
    )


def take_fit(lot: Lot, saying: Saying) -> Answer:
    """Do to a piece of a group what a window said: slide, swap, flip or turn it.

    Raises
    ------
    ScannerError
        It cannot be cut there, or the wood seen does not lie there any more.
    """
    title, number = saying.other, saying.copy
    member = _member(_group(lot, title)[1], number)
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
    bench, assembly = _group(lot, title)
    member = _member(assembly, number)
    if member.is_face_free:
        return _note_lie(lot, lie_of(flipped(member)), f"{member.title}: other face up", stamp)
    placed = _placed(bench, member)
    answer = edit_layout(lot, _saying(lot, "turn", placed, stamp))
    # Which end lies left was said of the wood, and stays.
    _note_lie(lot, lie_of(replace(member, face=3 - member.face)), f"{member.title}: as it lies")
    return answer


def turn(lot: Lot, title: str, number: int, stamp: Stamp | None = None) -> Answer:
    """Turn a piece end for end; it is cut as before."""
    member = _member(_group(lot, title)[1], number)
    return _note_lie(lot, lie_of(turned(member)), f"{member.title}: turned end for end", stamp)


def swap(lot: Lot, title: str, number: int, other: int, stamp: Stamp | None = None) -> Answer:
    """Let two pieces change their places in the group: each is cut where the other lay.

    Raises
    ------
    ScannerError
        One is cut already, or may not lie where the other lies.
    """
    bench, assembly = _group(lot, title)
    one, two = (_placed(bench, _member(assembly, n)) for n in (number, other))
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
        raise LotError(f"how far: {problem}", "type it like 40 mm or -40 mm") from None
    return _slide_by(lot, title, number, by)


def _slide_by(lot: Lot, title: str, number: int, by: float, stamp: Stamp | None = None) -> Answer:
    bench, assembly = _group(lot, title)
    member = _member(assembly, number)
    placed = _placed(bench, member)
    wish = (placed.x_mm + by, placed.y_mm)
    saying = replace(
        _saying(lot, "move", placed, stamp),
        other=placed.board,
        ring=((placed.x_mm, placed.y_mm), wish),
        reach_mm=_SLIDE_REACH_MM,
    )
    answer = edit_layout(lot, saying)
    if answer.status != "done":
        return answer
    moved = lie_of(replace(member, corner_mm=(member.corner_mm[0] + by, member.corner_mm[1])))
    _note_lie(lot, moved, f"{member.title}: as it lies")
    return answer


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
    bench, assembly = _group(lot, title)
    match = fit_of(bench, assembly).match
    if match is None or match.gain <= 0:
        raise PlacementError(f"nothing matches better than {title} as it lies", "leave it so")
    wanted = [(m.board, m.corner_mm) for m in match.proposed.members]
    for number, wood in enumerate(wanted, 1):
        now = [(m.board, m.corner_mm) for m in _group(lot, title)[1].members]
        at = now.index(wood) + 1 if wood in now else number
        if at != number:
            swap(lot, title, number, at)
    for number, member in enumerate(match.proposed.members, 1):
        is_now = _member(_group(lot, title)[1], number)
        if is_now.face != member.face:
            flip(lot, title, number)
        if is_now.is_turned != member.is_turned:
            turn(lot, title, number)


def look_for_price(lot: Lot, title: str) -> None:
    """Find out what a better match of a group would cost in wood, and note it.

    Raises
    ------
    PlacementError
        There is no layout, or no such group.
    """
    revision = lot.revision
    said = price_of_match(*_group(lot, title))
    note: Json = {"revision": revision, "title": title, "said": list(said)}
    lot.set_note(_PRICE_NOTE, note, new_stamp(lot, "dry-fit"), f"{title}: price of a match")


def kept_price(lot: Lot, title: str) -> tuple[str, ...]:
    """Return what a better match of a group would cost; nothing where the lot changed since."""
    note = lot.note(_PRICE_NOTE)
    if not isinstance(note, dict) or note.get("title") != title:
        return ()
    said, revision = note.get("said"), note.get("revision")
    # The note itself is one action more; whatever was done since may change the price.
    is_new = isinstance(revision, int) and lot.revision == revision + 1
    return tuple(str(line) for line in said) if is_new and isinstance(said, list) else ()


def fit_pdf(lot: Lot, title: str) -> bytes:
    """Return the sheets of a group as PDF: the picture to send around, and the bench's page."""
    bench, assembly = _group(lot, title)
    stem = stem_of(title)
    return sheet_files(bench, fit_of(bench, assembly), stem, paper_of(bench.shop))[f"{stem}.pdf"]


def fit_png(lot: Lot, title: str) -> bytes:
    """Return the picture of a group, with its scale bar."""
    bench, assembly = _group(lot, title)
    content = content_of(bench, fit_of(bench, assembly))
    page = picture_page(content, paper_of(bench.shop))
    return png_bytes(page_image(page, PNG_WIDTH))


def _bench(lot: Lot) -> Bench:
    saved = lot.layout()
    if saved is None:
        raise PlacementError("there is no layout yet", "place the parts first")
    boards = lot.boards()
    folders = {board.id: lot.folder for board in boards}
    return bench_from(saved.layout, boards, asked_parts(lot), lot.shop(), folders)


def _group(lot: Lot, title: str) -> tuple[Bench, Assembly]:
    bench, notes = _bench(lot), notes_of(lot)
    assembly = group_named(bench.groups(), title)
    way = next((one for one in WAYS if one == notes.ways.get(title)), assembly.way)
    return bench, replace(laid_as(assembly, notes.lies), way=way)


def _member(assembly: Assembly, number: int) -> Member:
    if not 1 <= number <= len(assembly.members):
        raise LotError(f"{assembly.title} has no piece {number}", "look at the picture again")
    return assembly.members[number - 1]


def _placed(bench: Bench, member: Member) -> Placement:
    for p in bench.layout.placements:
        if copy_of(p) == member.key and p.board == member.board and p.state != "spoiled":
            return p
    raise LotError(f"{member.title} does not lie there any more", "look at the picture again")


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
    notes = notes_of(lot)
    others = [one for one in notes.lies if (one.board, one.corner_mm) != (lie.board, lie.corner_mm)]
    return _keep(lot, replace(notes, lies=(*others, lie)[-_LIES_KEPT:]), said, stamp)


def _keep(lot: Lot, notes: FitNotes, said: str, stamp: Stamp | None = None) -> Answer:
    return lot.set_note(NOTE, to_document(notes), stamp or new_stamp(lot, "dry-fit"), said)
