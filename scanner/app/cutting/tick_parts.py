"""The errand "tick parts off": marked, cut, milled, resting, done, spoiled; and what to show."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, get_args

from scanner.app.lot.asked_parts import asked_parts, called
from scanner.app.showing.page_state import board_head, label_of
from scanner.errors import LotError
from scanner.placement.layout import PlacementState
from scanner.placement.wanted.turned import nest_blank
from scanner.storage.ticks import copy_of
from scanner.units import length_text, size_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import Part
    from scanner.storage.journal import Answer, Stamp
    from scanner.storage.lots import Lot
    from scanner.storage.ticks import Ticks

_NEAR_MM = 0.05
STATES: tuple[PlacementState, ...] = get_args(PlacementState)
# In the order of the work; what is spoiled stands beside it.
WORK: tuple[PlacementState, ...] = tuple(state for state in STATES if state != "spoiled")
WORDS: dict[PlacementState, str] = {
    # Not "laid out": on the page a layout is where the parts are to lie.
    "planned": "to mark",
    "laid_out": "marked",
    "cut": "cut",
    "milled": "milled",
    "resting": "resting",
    "done": "done",
    "spoiled": "spoiled",
}


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part to be cut, in words."""

    part: str
    copy: int
    x: float
    y: float
    label: str
    size: str
    where: str
    state: PlacementState
    locked: bool


@dataclass(frozen=True, slots=True)
class BoardToCut:
    """A board with its parts, in the order they come from end A."""

    id: str
    head: str
    parts: tuple[PartLine, ...]


def boards_to_cut(lot: Lot) -> tuple[BoardToCut, ...]:
    """Return the boards of the newest layout with their parts, as they stand."""
    saved = lot.layout()
    if saved is None:
        return ()
    units, placements = lot.shop().units, saved.layout.placements
    parts = {part.name: part for part in asked_parts(lot)}
    heads = {board.id: board_head(board, units) for board in lot.boards()}
    opened = sorted({placed.board for placed in placements} & set(heads))
    return tuple(
        BoardToCut(
            id,
            heads[id],
            tuple(
                _line(placed, placements, parts.get(placed.part), units)
                for placed in sorted(placements, key=lambda one: (one.x_mm, one.y_mm))
                if placed.board == id
            ),
        )
        for id in opened
    )


def spoiled_words(lot: Lot) -> tuple[str, ...]:
    """Return what was spoiled so far, in words."""
    return tuple(
        f"{called(lot, gone.part, gone.copy)} on {gone.board}" for gone in lot.ticks().spoiled
    )


def tick(
    lot: Lot, stamp: Stamp, copy: tuple[str, int], board: str, at: tuple[float, float], to: str
) -> Answer:
    """Say what became of a part; ``to`` is a state, ``lock`` or ``unlock``.

    Parameters
    ----------
    at
        Where the user saw it, x and y, mm: the layout may have changed meanwhile.

    Raises
    ------
    LotError
        No kept layout has the part there, or a cut part would be unlocked.
    """

    def changed(ticks: Ticks, layouts: Iterable[Layout]) -> Ticks:
        return _ticked(ticks, find_placement(ticks, layouts, copy, board, at, name), to)

    name = called(lot, *copy)
    return lot.tick(stamp, f"{name}: {_in_words(to)}", changed)


def _ticked(ticks: Ticks, placed: Placement, to: str) -> Ticks:
    others = ticks.without(copy_of(placed))
    if to in ("lock", "unlock"):
        after = replace(placed, locked=to == "lock")
    else:
        state = next((known for known in STATES if known == to), None)
        if state is None:
            raise LotError(f'"{to}" is no state of a part', "choose one of the buttons")
        after = replace(placed, state=state)
        if state == "spoiled":
            return replace(others, spoiled=(*ticks.spoiled, replace(after, locked=False)))
    if after.state == "planned" and not after.locked:
        return others
    return replace(others, placements=(*others.placements, after))


def find_placement(
    ticks: Ticks,
    layouts: Iterable[Layout],
    copy: tuple[str, int],
    board: str,
    at: tuple[float, float],
    name: str,
) -> Placement:
    """Return the placement the user saw: as ticked, else in the newest layout that has it.

    ``name``: what the copy is called.

    Raises
    ------
    LotError
        The part does not lie there in any kept layout.
    """
    ticked = [one for one in ticks.placements if copy_of(one)[:2] == copy]
    for placed in (*ticked, *(one for layout in layouts for one in layout.placements)):
        there = abs(placed.x_mm - at[0]) < _NEAR_MM and abs(placed.y_mm - at[1]) < _NEAR_MM
        if copy_of(placed)[:2] == copy and placed.board == board and there:
            return placed
    raise LotError(f"{name} does not lie there on {board} any more", "look at the layout again")


def _line(
    placed: Placement, all_placed: tuple[Placement, ...], part: Part | None, units: str
) -> PartLine:
    nest = [p for p in all_placed if _is_in_nest_with(p, placed)]
    blank = nest_blank(placed, nest)
    # Of a slice the face that the resaw opens shows, whichever face the board turns up.
    side = f"face {placed.show_face}" if placed.layer is None else "the sawn face"
    face = f", {side} shows" if placed.show_face else ""
    return PartLine(
        part=placed.part,
        copy=placed.copy,
        x=placed.x_mm,
        y=placed.y_mm,
        label=label_of(placed, all_placed, part),
        size=size_text(blank.length_mm, blank.width_mm, units)
        + (f" for {len(nest)}, curves sawn apart" if len(nest) > 1 else ""),
        where=f"{length_text(blank.x_mm, units)} from end A{face}",
        state=placed.state,
        locked=placed.locked,
    )


def _is_in_nest_with(one: Placement, placed: Placement) -> bool:
    place = (placed.board, placed.nest)
    return placed.nest is not None and (one.board, one.nest) == place and one.state != "spoiled"


def _in_words(to: str) -> str:
    if to in ("lock", "unlock"):
        return "to stay where it lies" if to == "lock" else "free to move"
    return next((word for state, word in WORDS.items() if state == to), to)
