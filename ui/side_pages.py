"""Pages beside the five steps: one line each here registers one.

A side page is a file ``ui/views/NAME.py`` that begins with ``page = open_page("NAME")``, as a step
does. Its step shows a button to it, and it shows a button back. A lot's long work runs as
``page.desk.job = Job("What it does", work)``; how far it is shows on every page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from scanner.app.showing.road_state import StepName


@dataclass(frozen=True, slots=True)
class SidePage:
    """A page beside a step.

    Attributes
    ----------
    name
        Its file in ``ui/views`` without the ending, and the end of its address.
    title
        Its heading, and what the button to it says.
    beside
        The step that it belongs to; it is marked on the road while the page shows.
    says
        What it is good for, in a sentence beside the button.
    needs
        What a lot must hold before the button shows: nothing, a board, or a layout.
    """

    name: str
    title: str
    beside: StepName
    says: str
    needs: Literal["nothing", "a board", "a layout"] = "a board"


SIDE_PAGES: tuple[SidePage, ...] = (
    SidePage(
        "buying",
        "How much wood to buy",
        "parts",
        "Board feet for this list, the yard card to take along, and how wide parts will move.",
        "nothing",
    ),
    SidePage(
        "again",
        "More photos of a board",
        "boards",
        "One from the other side, a better one, one under a low lamp; what you said stays.",
    ),
    SidePage(
        "taking",
        "Which boards to take",
        "boards",
        "Prices, the cheapest boards that hold the list, what each is worth, grade estimates.",
    ),
    SidePage(
        "stock",
        "Left-overs",
        "boards",
        "Pieces worth keeping go to stock, and come out of it first.",
        "nothing",
    ),
    SidePage(
        "trust",
        "Three boards against the tape",
        "boards",
        "See what the lengths from your phone are worth.",
    ),
    SidePage(
        "end_grain",
        "Look at an end",
        "boards",
        "Rings on a fresh end: which way it cups, which face to hide, where legs come from.",
    ),
    SidePage(
        "edge",
        "Look at an edge",
        "boards",
        "Thickness at five places and the grain’s slope, from one photo.",
    ),
    SidePage(
        "fit",
        "See it put together",
        "layout",
        "A top, a bank of fronts, a pair of doors from their own wood, before anything is cut.",
        "a layout",
    ),
    SidePage(
        "saving",
        "Which one change saves a board?",
        "layout",
        "Sizes, knots and allowances tried one at a time; nothing is changed.",
        "a layout",
    ),
    SidePage(
        "marks",
        "Are my lines right?",
        "cut",
        "A photo of the lines you drew, held against the layout before the saw runs.",
        "a layout",
    ),
    SidePage(
        "piece",
        "A piece found again",
        "cut",
        "A photo of a cut or planed piece: its board, its place, the flaws that show now.",
        "a layout",
    ),
    SidePage(
        "ends",
        "Trim, look, tick",
        "cut",
        "Each end with what it may still lose before a part is lost.",
        "a layout",
    ),
    SidePage(
        "milling",
        "Milling, with days to tick",
        "cut",
        "Marks that survive the planer; batches by thickness, two passes, rest, glue-up days.",
        "a layout",
    ),
)


def side_page(name: str) -> SidePage | None:
    """Return the side page of that name; None where it is a step."""
    return next((page for page in SIDE_PAGES if page.name == name), None)


def beside(step: str) -> tuple[SidePage, ...]:
    """Return the side pages of a step."""
    return tuple(page for page in SIDE_PAGES if page.beside == step)
