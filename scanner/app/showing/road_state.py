"""The road through a lot: five steps, how far each is, and which comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scanner.app.lot.asked_parts import asked_parts
from scanner.errors import ScannerError

if TYPE_CHECKING:
    from scanner.app.showing.page_state import LotView
    from scanner.storage.lots import Lot

StepName = Literal["parts", "boards", "flaws", "layout", "cut"]
StepState = Literal["done", "next", "open"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its title, how far it is in a few words, and how it stands."""

    name: StepName
    title: str
    note: str
    state: StepState


@dataclass(frozen=True, slots=True)
class _Found:
    """What a step holds so far."""

    name: StepName
    title: str
    note: str
    is_done: bool


def road(lot: Lot, view: LotView) -> tuple[Step, ...]:
    """Return the five steps of a lot in order; at most one of them is next."""
    found = (_parts(lot), _boards(view), _flaws(view), _layout(view), _cut(lot))
    first = next((step.name for step in found if not step.is_done), None)
    return tuple(
        Step(
            step.name,
            step.title,
            step.note,
            "done" if step.is_done else "next" if step.name == first else "open",
        )
        for step in found
    )


def next_step(lot: Lot, view: LotView) -> StepName:
    """Return the step that waits for the user; the last one where none does."""
    return next((step.name for step in road(lot, view) if step.state == "next"), "cut")


def _parts(lot: Lot) -> _Found:
    try:
        parts = asked_parts(lot)
    except ScannerError:
        return _Found("parts", "Parts", "to mend", False)
    count, spares = sum(part.quantity for part in parts), sum(part.spares for part in parts)
    # A layout's "18 of 28 placed" counts the spares too: the sum of both figures here.
    note = f"{count} + {spares} spare{'s' if spares > 1 else ''}" if spares else f"{count} wanted"
    return _Found("parts", "Parts", note if count else "none yet", count > 0)


def _boards(view: LotView) -> _Found:
    count = len(view.lines)
    return _Found("boards", "Boards", f"{count} in the lot" if count else "none yet", count > 0)


def _flaws(view: LotView) -> _Found:
    count, done = len(view.lines), view.boards_done
    note = f"{done} of {count} looked over" if count else "after the boards"
    return _Found("flaws", "Flaws", note, count > 0 and done == count)


def _layout(view: LotView) -> _Found:
    match view.layout.standing:
        case "none":
            return _Found("layout", "Layout", "not yet", False)
        case "old":
            return _Found("layout", "Layout", "to be placed again", False)
    return _Found("layout", "Layout", f"{view.layout.placed} of {view.layout.asked} placed", True)


def _cut(lot: Lot) -> _Found:
    saved = lot.layout()
    if saved is None or not saved.layout.placements:
        return _Found("cut", "Cut", "after the layout", False)
    placed = saved.layout.placements
    cut = sum(part.state in ("cut", "milled", "resting", "done") for part in placed)
    return _Found("cut", "Cut", f"{cut} of {len(placed)} cut", cut == len(placed))
