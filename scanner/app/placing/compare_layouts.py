"""The errand "compare two layouts": looks against waste, and what was planned before."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.placing.layout_state import opened_price
from scanner.errors import PlacementError
from scanner.lot.money import amount_text
from scanner.placement.copy_names import names_of
from scanner.units import percent_text

if TYPE_CHECKING:
    from scanner.placement.layout import Layout
    from scanner.storage.lots import Lot

# More former layouts than this nobody tells apart.
_FORMER_SHOWN = 6
_SAME = 0.005


@dataclass(frozen=True, slots=True)
class Side:
    """One of two layouts: what it is called, and its figures in a sentence."""

    title: str
    figures: str
    layout: Layout


def has_matches(lot: Lot) -> bool:
    """Whether any part asks to look like another."""
    return any(part.match for part in asked_parts(lot))


def plan_unmatched(lot: Lot, seconds: float) -> Layout:
    """Return the parts laid out as if none had to look like another; nothing is kept in the lot.

    Raises
    ------
    ScannerError
        There is no board, no parts list, or they do not go together.
    """
    from scanner.app.placing.place_again import task_of
    from scanner.app.placing.plan_cuts import plan_cuts
    from scanner.placement.stop import Seconds

    # It goes on from the layout there is, so that a short search does no worse than that.
    task = task_of(lot, tuple(replace(part, match=None) for part in asked_parts(lot)))
    stop = Seconds(seconds)
    return plan_cuts(task.boards, task.parts, task.shop, stop, keep=task.keep).layout


def present(lot: Lot) -> Side | None:
    """Return the lot's layout as one side, None where there is none."""
    saved = lot.layout()
    return None if saved is None else side(lot, "As it is planned", saved.layout)


def former(lot: Lot) -> tuple[Side, ...]:
    """Return the kept layouts that differ from the present one, newest first."""
    saved = lot.layout()
    boards = {board.id for board in lot.boards()}
    found: list[Layout] = []
    for layout in lot.layouts():
        known = all(placed.board in boards for placed in layout.placements)
        new = saved is None or _places(layout) != _places(saved.layout)
        if known and new and all(_places(layout) != _places(one) for one in found):
            found.append(layout)
    return tuple(
        side(lot, f"Before, {number} back" if number > 1 else "The one before", layout)
        for number, layout in enumerate(found[:_FORMER_SHOWN], 1)
    )


def side(lot: Lot, title: str, layout: Layout) -> Side:
    """Return a layout with its figures in a sentence."""
    total = layout.summary
    boards = f"{total.boards_opened} {'board' if total.boards_opened == 1 else 'boards'}"
    figures = (
        f"{total.placed} of {total.asked} parts on {boards}, {total.board_feet:.1f} board feet, "
        f"waste {percent_text(1 - total.yield_share)}"
    )
    price = opened_price(lot, layout)
    return Side(title, f"{figures}, {price[1]}." if price else f"{figures}.", layout)


def difference_words(lot: Lot, one: Side, two: Side, says: str) -> str:
    """Return in a sentence what the first layout takes beyond the second.

    ``says`` begins it, such as "The matched sets cost".
    """
    a, b = one.layout.summary, two.layout.summary
    if a.placed != b.placed:
        more, fewer = (one, two) if a.placed > b.placed else (two, one)
        count = abs(a.placed - b.placed)
        return f'"{more.title}" places {count} more than "{fewer.title}": not the same job.'
    feet, boards = a.board_feet - b.board_feet, a.boards_opened - b.boards_opened
    if abs(feet) < _SAME and not boards:
        return "Both open the same wood."
    said = []
    if boards:
        count, word = abs(boards), "more" if boards > 0 else "fewer"
        said.append(f"{count} {word} {'board' if count == 1 else 'boards'}")
    if abs(feet) >= _SAME:
        said.append(f"{abs(feet):.1f} board feet {'more' if feet > 0 else 'less'}")
    prices = [opened_price(lot, of.layout) for of in (one, two)]
    if prices[0] and prices[1]:
        apart = prices[0][0] - prices[1][0]
        said.append(amount_text(apart, lot.shop().currency, signed=True))
    return f"{says} {', '.join(said)}."


def go_back(lot: Lot, layout: Layout) -> None:
    """Make a former layout the lot's present one; the other stays among the former ones.

    Raises
    ------
    PlacementError
        It does not hold any more: boards, parts, or what was said of them have changed.
    """
    from scanner.placement.validator.judge import validate_layout

    revision = lot.revision
    parts = asked_parts(lot)
    wrong = validate_layout(layout, lot.boards(), parts, lot.shop())
    if wrong:
        raise PlacementError(
            f"this layout does not hold any more ({wrong[0].said(names_of(parts))})",
            "place the parts again instead",
        )
    lot.save_layout(layout, revision)


def _places(layout: Layout) -> frozenset[tuple[object, ...]]:
    return frozenset(
        (p.part, p.board, round(p.x_mm), round(p.y_mm), p.show_face) for p in layout.placements
    )
