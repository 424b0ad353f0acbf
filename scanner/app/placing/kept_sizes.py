"""A former layout's sizes as the parts list has them: files hold hundredths of a millimetre.

Sixteenths of an inch, and thirds of a panel, are no whole hundredths. A part that stays would then
be a hair larger or smaller than its row, and the judge would count other wood than the search.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.staves import choices_of, stave_width_mm

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import Part, PartsList
    from scanner.placement.shop import Shop

# Half of a file's last digit, and what floats add.
_ROUNDED_MM = 0.005 + 1e-6


def as_listed(layout: Layout, parts: PartsList, shop: Shop) -> Layout:
    """Return the layout with each size that is its row's but for a file's rounding as the row's."""
    row_of = {part.name: part for part in parts}
    return replace(
        layout,
        placements=tuple(
            _as_row(p, row_of[p.part], shop) if p.part in row_of else p for p in layout.placements
        ),
    )


def _as_row(p: Placement, part: Part, shop: Shop) -> Placement:
    length, width = rough_size_mm(part, shop)
    lengths = [length, *_at_limits(length, part.length_mm, part.length_min_mm, part.length_max_mm)]
    widths = [width, *_at_limits(width, part.width_mm, part.width_min_mm, part.width_max_mm)]
    if p.stave is not None:
        widths = [stave_width_mm(part, count, shop) for count in choices_of(part, shop)]
    return replace(p, length_mm=_near(p.length_mm, lengths), width_mm=_near(p.width_mm, widths))


def _at_limits(rough: float, finished: float, *limits: float | None) -> Iterable[float]:
    """Yield the rough sizes of a part that gives as far as it may."""
    return (rough - finished + limit for limit in limits if limit is not None)


def _near(size: float, listed: list[float]) -> float:
    """Return the listed size that a file writes as this one, else the size itself."""
    return next((one for one in listed if abs(one - size) <= _ROUNDED_MM), size)
