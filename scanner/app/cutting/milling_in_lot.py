"""The errand "mill" in a lot: the plan as the page shows it, what is chosen, ticked, measured."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from scanner.app.cutting.milling import marks_of, over_mm, rest_days_of, short_words, thickness_text
from scanner.app.cutting.save_maps import paper_of
from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import new_stamp, parts_of
from scanner.errors import LotError
from scanner.lot.milling_plan import (
    REST_DAYS,
    MillingChoice,
    MillingNotes,
    late_batches,
    milling_plan,
    thin_pieces,
    to_measure,
    usual_choice,
)
from scanner.sheets.lasting_marks import HOW, face_words, set_words
from scanner.sheets.milling_sheet import (
    before_words,
    milling_sheet,
    pieces_text,
    setup_words,
    unseen_words,
)
from scanner.sheets.pdf import pdf_bytes
from scanner.storage.values import DocumentError, from_document, to_document
from scanner.units import LengthError, length_text, read_length_mm

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.lot.lasting_marks import LastingMarks
    from scanner.lot.milling_plan import Batch, MillingPlan
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot

NOTE = "milling"


@dataclass(frozen=True, slots=True)
class StepView:
    """A pass of a batch as the page shows it; ``done`` is the day it was ticked, or ""."""

    key: str
    words: str
    due: str
    done: str


@dataclass(frozen=True, slots=True)
class BatchView:
    """A batch as the page shows it."""

    title: str
    steps: tuple[StepView, ...]
    pieces: tuple[tuple[str, str], ...]
    said: tuple[str, ...]
    must_measure: bool


def notes_of(lot: Lot) -> MillingNotes:
    """Return what was said of the lot's milling; what an older program wrote else is let go."""
    document = lot.note(NOTE)
    usual = MillingNotes(usual_choice(lot.shop()))
    if document is None:
        return usual
    try:
        return from_document(MillingNotes, document)
    except DocumentError:
        return usual


def lot_plan(lot: Lot) -> MillingPlan:
    """Return the milling plan of the lot's newest layout.

    Raises
    ------
    PlacementError
        There is no layout.
    """
    saved = newest_layout(lot)
    return milling_plan(saved.layout, lot.boards(), parts_of(lot), lot.shop(), notes_of(lot))


def unseen_lines(lot: Lot) -> tuple[str, ...]:
    """Return a line that names the boards in the plan that nobody has looked over, if any."""
    return unseen_words(lot_plan(lot))


def batch_views(lot: Lot, today: date | None = None) -> tuple[BatchView, ...]:
    """Return the batches as the page shows them."""
    plan, notes, units = lot_plan(lot), notes_of(lot), lot.shop().units
    waiting = to_measure(plan, today or date.today(), notes)
    return tuple(_view(batch, notes, units, must=batch in waiting) for batch in plan.batches)


def _view(batch: Batch, notes: MillingNotes, units: str, *, must: bool) -> BatchView:
    steps = tuple(
        StepView(
            batch.step(name),
            f"{words} to {thickness_text(target, units)}",
            day.isoformat() if day else "",
            notes.done.get(batch.step(name), ""),
        )
        for name, words, target, day in (
            ("first", "First pass", batch.first_mm, batch.first_on),
            ("final", "Final pass", batch.final_mm, batch.final_on),
        )
    )
    pieces = tuple((p.key, f"{p.title} ({p.board})") for p in batch.pieces)
    thin = tuple(
        f"{p.title} is too thin after the rest: take it for a thinner part, or mark it spoiled."
        for p in thin_pieces(batch, notes)
    )
    title = f"{thickness_text(batch.final_mm, units)}: {pieces_text(batch)}"
    said = (
        setup_words(batch, units),
        *before_words(batch, units),
        *short_words(batch, units),
        *thin,
    )
    return BatchView(title, steps, pieces, said, must)


def late_words(lot: Lot, today: date | None = None) -> tuple[str, ...]:
    """Return what is overdue, in sentences."""
    return late_batches(lot_plan(lot), today or date.today(), notes_of(lot))


def rest_choices() -> Mapping[int, str]:
    """Return the days of rest to choose from, with who does so."""
    return REST_DAYS


def milling_choice(lot: Lot) -> tuple[str, int, bool, date | None]:
    """Return over-thickness in words, days of rest, stickers, day to begin, as they were chosen."""
    notes = notes_of(lot)
    begin = date.fromisoformat(notes.begin) if notes.begin else None
    over = length_text(notes.choice.over_mm, lot.shop().units, 1)
    return over, notes.choice.rest_days, notes.choice.stickers, begin


def milled_parts(lot: Lot) -> tuple[tuple[str, date | None], ...]:
    """Return the parts that are still to be milled, with the day they are glued up."""
    days = notes_of(lot).glue_up
    names = dict.fromkeys(p.part for batch in lot_plan(lot).batches for p in batch.pieces)
    return tuple((name, date.fromisoformat(days[name]) if name in days else None) for name in names)


def choose(lot: Lot, *, over: str, rest_days: int, stickers: bool, begin: date | None) -> Answer:
    """Keep how the maker mills."""
    choice = MillingChoice(over_mm(over, lot.shop().units), rest_days_of(rest_days), stickers)
    day = begin.isoformat() if begin else None
    return _keep(lot, replace(notes_of(lot), choice=choice, begin=day), "how the wood is milled")


def set_glue_up(lot: Lot, part: str, day: date | None) -> Answer:
    """Say on which day a part is glued up; None takes it back."""
    notes = notes_of(lot)
    days = {name: kept for name, kept in notes.glue_up.items() if name != part}
    if day is not None:
        days[part] = day.isoformat()
    return _keep(lot, replace(notes, glue_up=days), f"{part}: day of the glue-up")


def tick_step(lot: Lot, key: str, day: date | None) -> Answer:
    """Tick a pass off on a day; None takes the tick back.

    Raises
    ------
    LotError
        The plan has no such pass any more.
    """
    notes = notes_of(lot)
    if key not in {batch.step(name) for batch in lot_plan(lot).batches
                   for name in ("first", "final")}:  # fmt: skip
        raise LotError("this pass is not in the plan any more", "look at the plan again")
    done = {name: kept for name, kept in notes.done.items() if name != key}
    if day is not None:
        done[key] = day.isoformat()
    return _keep(lot, replace(notes, done=done), f"milling: {key.replace('/', ' mm, ')} pass")


def measure(lot: Lot, piece: str, typed: str) -> Answer:
    """Keep the thickness of a piece after its rest, as typed; an empty text takes it back."""
    notes = notes_of(lot)
    measured = {name: kept for name, kept in notes.measured.items() if name != piece}
    if typed.strip():
        try:
            measured[piece] = read_length_mm(typed, lot.shop().units)
        except LengthError as problem:
            raise LotError(f"the thickness: {problem.what}", "type it like 22.4 mm") from None
    return _keep(lot, replace(notes, measured=measured), f"measured {piece.split('/')[0]} again")


def mark_words(lot: Lot) -> tuple[str, ...]:
    """Return how the pieces are marked so that the planer leaves the marks, in sentences."""
    marks = _marks(lot, lot_plan(lot))
    return (*HOW, *face_words(marks), *set_words(marks))


def milling_pdf(lot: Lot) -> bytes:
    """Return the milling sheet of the lot as PDF, on its shop's paper."""
    shop, plan = lot.shop(), lot_plan(lot)
    pages = milling_sheet(plan, notes_of(lot), shop.units, paper_of(shop), _marks(lot, plan))
    return pdf_bytes(pages, "Milling")


def _marks(lot: Lot, plan: MillingPlan) -> LastingMarks:
    saved = newest_layout(lot)
    return marks_of(plan, saved.layout, lot.boards(), parts_of(lot), lot.shop())


def _keep(lot: Lot, notes: MillingNotes, said: str) -> Answer:
    return lot.set_note(NOTE, to_document(notes), new_stamp(lot), said)
