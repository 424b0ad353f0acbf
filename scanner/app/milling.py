"""The errand "milling plan": batches, first and final pass, rest, dates; ticked in the lot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from scanner.app.given_layout import read_given
from scanner.app.open_lot import new_stamp, parts_of
from scanner.app.save_maps import paper_of
from scanner.errors import LotError, PlacementError, SettingsError
from scanner.files.json_text import json_text
from scanner.files.write import refuse_unwritable, write_files
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
from scanner.sheets.milling_sheet import milling_sheet, setup_words
from scanner.sheets.paper import paper_named
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.png import page_image, png_bytes
from scanner.storage.values import DocumentError, from_document, to_document
from scanner.units import LengthError, decimal_text, length_text, read_length_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from scanner.lot.milling_plan import Batch, MillingPlan
    from scanner.placement.parts import PartsList
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot

NOTE = "milling"
PNG_WIDTH = 2000
# What a first pass may leave over.
_MOST_OVER_MM = 25.0
# Nearer than a planer is set: 20 mm is no 13/16 in.
_SAME_THICKNESS_MM = 0.15


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


def milling_files(
    layout_file: Path,
    parts_file: Path,
    board_files: tuple[Path, ...],
    folder: Path,
    *,
    over: str | None = None,
    rest_days: int = 3,
    stickers: bool = True,
    begin: str | None = None,
    glue_up: Sequence[str] = (),
    shop_file: Path | None = None,
    units: str = "mm",
    paper: str = "a4",
) -> tuple[tuple[str, ...], tuple[Path, ...]]:
    """Write ``milling.pdf``, its pictures and ``milling.json``; return lines to say and files.

    Parameters
    ----------
    glue_up
        ``PART=DATE``, a part's name (or ``all``) and the day it is glued.

    Raises
    ------
    ScannerError
        A file cannot be read, or a date, a length or a part's name is none.
    """
    refuse_unwritable(folder)
    size = paper_named(paper)
    given = read_given(layout_file, parts_file, board_files, shop_file, units)
    choice = MillingChoice(
        over_mm=_over(over, given.shop.units) if over else usual_choice(given.shop).over_mm,
        rest_days=_rest(rest_days),
        stickers=stickers,
    )
    notes = MillingNotes(
        choice,
        begin=_iso(begin, "--begin") if begin else None,
        glue_up=_glue_ups(glue_up, given.parts),
    )
    plan = milling_plan(given.layout, given.boards, given.parts, given.shop, notes)
    pages = milling_sheet(plan, notes, given.shop.units, size)
    files = {"milling.pdf": pdf_bytes(pages, "Milling"), "milling.json": plan_json(plan, notes)}
    for number, page in enumerate(pages, 1):
        suffix = "" if number == 1 else f"-{number}"
        files[f"milling{suffix}.png"] = png_bytes(page_image(page, PNG_WIDTH))
    write_files(folder, files)
    return plan_lines(plan, given.shop.units), tuple(folder / name for name in files)


def _thickness_text(thickness_mm: float, units: str) -> str:
    """Return a thickness; in inches with its mm where no sixteenth is that thickness."""
    text = length_text(thickness_mm, units, 1)
    if units == "inch" and abs(read_length_mm(text) - thickness_mm) > _SAME_THICKNESS_MM:
        return f"{text} ({decimal_text(thickness_mm, 1)} mm)"
    return text


def plan_lines(plan: MillingPlan, units: str) -> tuple[str, ...]:
    """Return the batches in sentences."""
    said = []
    for batch in plan.batches:
        first = _thickness_text(batch.first_mm, units)
        final = _thickness_text(batch.final_mm, units)
        days = (
            f"; first pass {batch.first_on.isoformat()}, final {batch.final_on.isoformat()}"
            if batch.first_on and batch.final_on
            else ""
        )
        said.append(f"{len(batch.pieces)} pieces to {first}, then {final}{days}")
        said.append(f"  {setup_words(batch, units)}")
        said += [f"  {line}" for line in _short_words(batch, units)]
    return tuple(said) or ("Nothing is left to mill.",)


def _short_words(batch: Batch, units: str) -> tuple[str, ...]:
    return tuple(
        f"{piece.part} {piece.copy} of {piece.board} should give "
        f"{length_text(piece.gives_mm, units, 1)} only"
        for piece in batch.short
    )


def plan_json(plan: MillingPlan, notes: MillingNotes) -> bytes:
    """Return the plan as JSON."""
    rows = [
        {
            "final": batch.final_mm,
            "first": batch.first_mm,
            "first_on": batch.first_on.isoformat() if batch.first_on else None,
            "final_on": batch.final_on.isoformat() if batch.final_on else None,
            "glue_up": batch.glue_up.isoformat() if batch.glue_up else None,
            "setup": None
            if batch.setup is None
            else {
                "board": batch.setup.board,
                "x": batch.setup.x_mm,
                "length": batch.setup.length_mm,
                "width": batch.setup.width_mm,
            },
            "pieces": [
                {"part": p.part, "copy": p.copy, "stave": p.stave or None, "board": p.board,
                 "gives": round(p.gives_mm, 1)}
                for p in batch.pieces
            ],
        }
        for batch in plan.batches
    ]  # fmt: skip
    choice = plan.choice
    return json_text(
        {"format": "milling", "version": 1, "over": choice.over_mm, "rest_days": choice.rest_days,
         "stickers": choice.stickers, "begin": notes.begin, "batches": rows}
    ).encode()  # fmt: skip


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
    saved = lot.layout()
    if saved is None:
        raise PlacementError("there is no layout yet", "place the parts first")
    return milling_plan(saved.layout, lot.boards(), parts_of(lot), lot.shop(), notes_of(lot))


def batch_views(lot: Lot, today: date | None = None) -> tuple[BatchView, ...]:
    """Return the batches as the page shows them."""
    plan, notes, units = lot_plan(lot), notes_of(lot), lot.shop().units
    waiting = to_measure(plan, today or date.today(), notes)
    return tuple(_view(batch, notes, units, must=batch in waiting) for batch in plan.batches)


def _view(batch: Batch, notes: MillingNotes, units: str, *, must: bool) -> BatchView:
    steps = tuple(
        StepView(
            batch.step(name),
            f"{words} to {_thickness_text(target, units)}",
            day.isoformat() if day else "",
            notes.done.get(batch.step(name), ""),
        )
        for name, words, target, day in (
            ("first", "First pass", batch.first_mm, batch.first_on),
            ("final", "Final pass", batch.final_mm, batch.final_on),
        )
    )
    pieces = tuple(
        (
            p.key,
            f"{p.part} {p.copy}" + (f", stave {p.stave}" if p.stave else "") + f" ({p.board})",
        )
        for p in batch.pieces
    )
    thin = tuple(
        f"{p.part} {p.copy} is too thin after the rest: take it for a thinner part, or mark it "
        "spoiled."
        for p in thin_pieces(batch, notes)
    )
    title = f"{_thickness_text(batch.final_mm, units)}: {len(batch.pieces)} pieces"
    said = (setup_words(batch, units), *_short_words(batch, units), *thin)
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
    choice = MillingChoice(_over(over, lot.shop().units), _rest(rest_days), stickers)
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
            raise LotError(f"the thickness: {problem}", "type it like 22.4 mm") from None
    return _keep(lot, replace(notes, measured=measured), f"measured {piece.split('/')[0]} again")


def milling_pdf(lot: Lot) -> bytes:
    """Return the milling sheet of the lot as PDF, on its shop's paper."""
    shop = lot.shop()
    pages = milling_sheet(lot_plan(lot), notes_of(lot), shop.units, paper_of(shop))
    return pdf_bytes(pages, "Milling")


def _keep(lot: Lot, notes: MillingNotes, said: str) -> Answer:
    return lot.set_note(NOTE, to_document(notes), new_stamp(lot), said)


def _over(text: str, units: str) -> float:
    try:
        over = read_length_mm(text, units)
    except LengthError as problem:
        raise SettingsError(f"over the final thickness: {problem}", "write it like 3mm") from None
    if over > _MOST_OVER_MM:
        raise SettingsError(
            f"{length_text(over, units)} over is more than wood gives", "choose less than 25 mm"
        )
    return over


def _rest(days: int) -> int:
    if not 0 <= days <= 365:
        raise SettingsError(f"{days} days are no rest between two passes", "choose 0 to 365")
    return days


def _iso(text: str, option: str) -> str:
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise SettingsError(
            f'{option}: "{text}" is no date', "write year-month-day, like 2027-03-01"
        ) from None


def _glue_ups(given: Sequence[str], parts: PartsList) -> dict[str, str]:
    names = {part.name for part in parts}
    days: dict[str, str] = {}
    for entry in given:
        name, equals, text = entry.rpartition("=")
        if not equals or (name.strip() != "all" and name.strip() not in names):
            raise SettingsError(
                f'--glue-up "{entry}" names no part', "write PART=2027-03-01, or all=2027-03-01"
            )
        day = _iso(text, "--glue-up")
        for part in names if name.strip() == "all" else {name.strip()}:
            days[part] = day
    return days
