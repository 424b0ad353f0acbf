"""The errand "dry fit" in a lot: its groups as the page shows them, their sheets and the price."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.cutting.save_maps import paper_of
from scanner.app.fitting.dry_fit import (
    PNG_WIDTH,
    bench_from,
    content_of,
    fit_of,
    group_named,
    price_of_match,
    sheet_files,
    stem_of,
)
from scanner.app.fitting.fit_drawn import PieceDrawn, drawn
from scanner.app.lot.asked_parts import asked_parts
from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import new_stamp
from scanner.board.assembly import WAYS, FitNotes, laid_as
from scanner.errors import LotError
from scanner.sheets.assembled import picture_page
from scanner.sheets.png import page_image, png_bytes
from scanner.storage.ticks import copy_of
from scanner.storage.values import DocumentError, from_document
from scanner.units import length_text

if TYPE_CHECKING:
    from scanner.app.fitting.dry_fit import Bench
    from scanner.board.assembly import Assembly, Member
    from scanner.placement.layout import Placement
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json

NOTE = "dry-fit"
_PRICE_NOTE = "match-price"


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
    bench, assembly = group_in(lot, title)
    fit = fit_of(bench, assembly)
    placed = zip(assembly.members, assembly.places(), strict=True)
    return FitView(
        title,
        assembly.way,
        tuple(_line(n, m, bench.shop.units) for n, m in enumerate(assembly.members, 1)),
        tuple(drawn(bench, member, place, placed_of(bench, member)) for member, place in placed),
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


def look_for_price(lot: Lot, title: str) -> None:
    """Find out what a better match of a group would cost in wood, and note it.

    Raises
    ------
    PlacementError
        There is no layout, or no such group.
    """
    revision = lot.revision
    said = price_of_match(*group_in(lot, title))
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
    bench, assembly = group_in(lot, title)
    stem = stem_of(title)
    return sheet_files(bench, fit_of(bench, assembly), stem, paper_of(bench.shop))[f"{stem}.pdf"]


def fit_png(lot: Lot, title: str) -> bytes:
    """Return the picture of a group, with its scale bar."""
    bench, assembly = group_in(lot, title)
    content = content_of(bench, fit_of(bench, assembly))
    page = picture_page(content, paper_of(bench.shop))
    return png_bytes(page_image(page, PNG_WIDTH))


def _bench(lot: Lot) -> Bench:
    saved = newest_layout(lot)
    boards = lot.boards()
    folders = {board.id: lot.folder for board in boards}
    return bench_from(saved.layout, boards, asked_parts(lot), lot.shop(), folders)


def group_in(lot: Lot, title: str) -> tuple[Bench, Assembly]:
    """Return a group of the lot's newest layout, laid as was said of it, and what it stands in.

    Raises
    ------
    PlacementError
        There is no layout, or no such group.
    """
    bench, notes = _bench(lot), notes_of(lot)
    assembly = group_named(bench.groups(), title)
    way = next((one for one in WAYS if one == notes.ways.get(title)), assembly.way)
    return bench, replace(laid_as(assembly, notes.lies), way=way)


def placed_of(bench: Bench, member: Member) -> Placement:
    """Return where the layout has a piece of a group.

    Raises
    ------
    LotError
        It lies there no more.
    """
    for p in bench.layout.placements:
        if copy_of(p) == member.key and p.board == member.board and p.state != "spoiled":
            return p
    raise LotError(f"{member.title} does not lie there any more", "look at the picture again")
