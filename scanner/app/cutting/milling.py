"""The errand "milling plan": batches, first and final pass, rest and dates, from files to files."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from scanner.app.placing.given_layout import read_given
from scanner.errors import SettingsError
from scanner.files.json_text import json_text
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.groups import groups_of
from scanner.lot.lasting_marks import lasting_marks
from scanner.lot.milling_plan import (
    MillingChoice,
    MillingNotes,
    milling_plan,
    usual_choice,
)
from scanner.sheets.milling_sheet import (
    before_words,
    milling_sheet,
    pieces_text,
    setup_words,
    unseen_words,
)
from scanner.sheets.paper import paper_named
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.png import page_image, png_bytes
from scanner.units import LengthError, decimal_text, length_text, read_length_mm

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.lot.lasting_marks import LastingMarks
    from scanner.lot.milling_plan import Batch, MillingPlan
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop

PNG_WIDTH = 2000
# What a first pass may leave over.
_MOST_OVER_MM = 25.0
# Nearer than a planer is set: 20 mm is no 13/16 in.
_SAME_THICKNESS_MM = 0.15


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
        over_mm=over_mm(over, given.shop.units) if over else usual_choice(given.shop).over_mm,
        rest_days=rest_days_of(rest_days),
        stickers=stickers,
    )
    notes = MillingNotes(
        choice,
        begin=_iso(begin, "--begin") if begin else None,
        glue_up=_glue_ups(glue_up, given.parts),
    )
    plan = milling_plan(given.layout, given.boards, given.parts, given.shop, notes)
    marks = marks_of(plan, given.layout, given.boards, given.parts, given.shop)
    pages = milling_sheet(plan, notes, given.shop.units, size, marks)
    files = {"milling.pdf": pdf_bytes(pages, "Milling"), "milling.json": plan_json(plan, notes)}
    for number, page in enumerate(pages, 1):
        suffix = "" if number == 1 else f"-{number}"
        files[f"milling{suffix}.png"] = png_bytes(page_image(page, PNG_WIDTH))
    write_files(folder, files)
    return plan_lines(plan, given.shop.units), tuple(folder / name for name in files)


def marks_of(
    plan: MillingPlan, layout: Layout, boards: tuple[Board, ...], parts: PartsList, shop: Shop
) -> LastingMarks:
    """Return the marks that a plan's pieces need before the first pass."""
    pieces = [piece for batch in plan.batches for piece in batch.pieces]
    return lasting_marks(pieces, layout.placements, groups_of(layout, boards, parts, shop), parts)


def thickness_text(thickness_mm: float, units: str) -> str:
    """Return a thickness; in inches with its mm where no sixteenth is that thickness."""
    metric = f"{decimal_text(thickness_mm, 1)} mm"
    if units != "inch":
        return metric
    text = length_text(thickness_mm, units)
    is_same = abs(read_length_mm(text) - thickness_mm) <= _SAME_THICKNESS_MM
    return text if is_same else f"{text} ({metric})"


def plan_lines(plan: MillingPlan, units: str) -> tuple[str, ...]:
    """Return the batches in sentences."""
    said = []
    for batch in plan.batches:
        first = thickness_text(batch.first_mm, units)
        final = thickness_text(batch.final_mm, units)
        days = (
            f"; first pass {batch.first_on.isoformat()}, final {batch.final_on.isoformat()}"
            if batch.first_on and batch.final_on
            else ""
        )
        said.append(f"{pieces_text(batch)} to {first}, then {final}{days}")
        said.append(f"  {setup_words(batch, units)}")
        said += [f"  {line}" for line in (*before_words(batch, units), *short_words(batch, units))]
    said += unseen_words(plan)
    return tuple(said) or ("Nothing is left to mill.",)


def short_words(batch: Batch, units: str) -> tuple[str, ...]:
    """Return which pieces should give less than the first pass wants."""
    return tuple(
        f"{piece.title} of {piece.board} should give {length_text(piece.gives_mm, units, 1)} only"
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
                "resaw": batch.setup_is_thick,
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
         "stickers": choice.stickers, "begin": notes.begin, "batches": rows,
         "not_looked_over": list(plan.not_looked_over)}
    ).encode()  # fmt: skip


def over_mm(text: str, units: str) -> float:
    """Return what a first pass leaves over, as typed."""
    try:
        over = read_length_mm(text, units)
    except LengthError as problem:
        raise SettingsError(
            f"over the final thickness: {problem.what}", "write it like 3mm"
        ) from None
    if over > _MOST_OVER_MM:
        raise SettingsError(
            f"{length_text(over, units)} over is more than wood gives", "choose less than 25 mm"
        )
    return over


def rest_days_of(days: int) -> int:
    """Return the days of rest between both passes; refuses what is none."""
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
