"""What the page says of the newest layout: what is placed, what is not, how good it can get."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scanner.app.lot.open_lot import parts_of
from scanner.lot.money import money_of
from scanner.units import decimal_text, percent_text, size_text

if TYPE_CHECKING:
    from scanner.placement.layout import Layout
    from scanner.storage.lots import Lot

LayoutStanding = Literal["none", "current", "old"]
# Nearer to its bound than this a layout is said to be the best.
_AS_GOOD_AS_BEST = 0.0005


@dataclass(frozen=True, slots=True)
class LayoutView:
    """A layout in words.

    ``missing`` says what is not placed and why, ``warnings`` what else to mind, ``bound`` what
    could still be gained.
    """

    standing: LayoutStanding
    headline: str = ""
    missing: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    placed: int = 0
    asked: int = 0
    bound: str = ""
    boards: tuple[str, ...] = ()  # those that parts lie on, in order
    totals: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """All that is to be minded."""
        return (*self.missing, *self.warnings)


def layout_view(lot: Lot) -> LayoutView:
    """Return the newest layout in words."""
    saved = lot.layout()
    if saved is None:
        return LayoutView("none")
    layout, total = saved.layout, saved.layout.summary
    headline = (
        f"{total.placed} of {total.asked} parts placed on {total.boards_opened} "
        f"{'board' if total.boards_opened == 1 else 'boards'} of {_feet(total.board_feet)}; "
        f"yield {percent_text(total.yield_share)}"
    )
    missing = tuple(
        f"{gap.copies} × {gap.part} not placed: {gap.reason}"
        + (f" ({gap.nearest})" if gap.nearest else "")
        for gap in layout.unplaced
    )
    warnings: tuple[str, ...] = ()
    if layout.not_looked_over:
        warnings = (
            f"Not looked over: {', '.join(layout.not_looked_over)}. What was found there counts at "
            "its worst, and what was not found is not known.",
        )
    undrawn = [part for part in parts_of(lot) if part.shape and part.outline_mm is None]
    if undrawn:
        said = ", ".join(f"{part.name} ({part.shape})" for part in undrawn)
        warnings = (*warnings, f"Laid as rectangles, as their drawings are not here: {said}.")
    standing: LayoutStanding = "current" if saved.revision == lot.revision else "old"
    opened = tuple(sorted({placed.board for placed in layout.placements}))
    return LayoutView(
        totals=_totals(lot, layout),
        standing=standing,
        headline=headline,
        missing=missing,
        warnings=warnings,
        placed=total.placed,
        asked=total.asked,
        bound=_bound_words(layout) if layout.placements else "",
        boards=opened,
    )


def _totals(lot: Lot, layout: Layout) -> str:
    """Return waste, price and the left-overs worth keeping, in words."""
    if not layout.placements:
        return ""
    shop = lot.shop()
    said = [f"Waste {percent_text(1 - layout.summary.yield_share)}"]
    price = opened_price(lot, layout)
    if price is not None:
        said.append(f"these boards cost {price[1]}")
    if layout.offcuts:
        largest = max(layout.offcuts, key=lambda one: one.length_mm * one.width_mm)
        count = len(layout.offcuts)
        size = size_text(largest.length_mm, largest.width_mm, shop.units)
        said.append(
            f"{count} left-over{'s' if count > 1 else ''} worth keeping, "
            f"{'the largest ' if count > 1 else ''}{size} on {largest.board}"
        )
    return "; ".join(said) + "."


def opened_price(lot: Lot, layout: Layout) -> tuple[float, str] | None:
    """Return what the boards that parts lie on cost, in figures and words; None if not known."""
    money = money_of(lot.boards(), lot.shop())
    opened = {placed.board for placed in layout.placements}
    if money is None or not opened <= money.by_board.keys():
        return None
    price = sum(money.by_board[id] for id in sorted(opened))
    return price, money.text(price)


def worse_words(lot: Lot) -> str:
    """Return in words the layout that one undo brings back where it was better, else ""."""
    saved, former = lot.layout(), lot.layout_by_undo()
    if saved is None or former is None:
        return ""
    now, before = saved.layout.summary, former.summary
    gained = (now.placed - before.placed, round(before.board_feet - now.board_feet, 2))
    # What is asked for or lies in the lot is another matter: these two answer another question.
    if now.asked != before.asked or gained >= (0, 0):
        return ""
    return f"The layout before: {so_far(former)}. Undo brings it back."


def so_far(layout: Layout) -> str:
    """Return what a search that goes on has found, in words."""
    total = layout.summary
    return (
        f"{total.placed} of {total.asked} parts placed on {total.boards_opened} "
        f"{'board' if total.boards_opened == 1 else 'boards'}, {_feet(total.board_feet)}"
    )


def _feet(feet: float) -> str:
    """Return board feet with the tenth that a tally of sawn wood has, and no empty one."""
    text = decimal_text(feet, 1)
    return f"{text} board {'foot' if text == '1' else 'feet'}"


def _bound_words(layout: Layout) -> str:
    """Return in words how far the layout can be from the best one (see `placement.proof.bound`)."""
    gap = layout.bound.gap
    # Said of any placement unless the bound holds for the shop's way of cutting only.
    way = "" if layout.bound.cut_class == "any" else " cut crosscut, rip, crosscut"
    if layout.bound.of == "value":
        if gap < _AS_GOOD_AS_BEST:
            return f"No layout on these boards{way} can place more."
        # The gap is a share of the bound; said as a share of what is placed.
        return (
            f"At most {_percent(gap / (1 - gap))} more could be placed on these boards{way}, "
            "counted by size and priority of the parts; most likely less."
        )
    if gap < _AS_GOOD_AS_BEST:
        return f"Every part is placed, and no layout{way} can do it with less wood."
    return (
        f"Every part is placed; no layout{way} can do it with less than {_percent(1 - gap)} of "
        "this wood, and most likely more is needed."
    )


def _percent(share: float) -> str:
    """Return a share in percent, with a tenth where a whole one would hide it."""
    return f"{100 * share:.{1 if share < 0.1 or 0.9 < share < 1 else 0}f} %"
