"""Sizes that may give: which dimensions share one size, how far they give, what was made.

A size gives downwards from the one that is wanted, and only where that places more parts or opens
less wood; all copies of a row, and all rows of one ``equal`` name, keep one size. ``length_max``
and ``width_max`` say how far rows of different sizes may grow to meet in one.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from scanner.errors import PlacementError
from scanner.placement.layout import SAWN_OUT, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.staves import whole_panels
from scanner.units import length_text, size_text

Side = Literal["length", "width"]
_SIDES: tuple[tuple[Side, str], ...] = (("length", "long"), ("width", "wide"))


@dataclass(frozen=True, slots=True)
class Giving:
    """One size of one or several rows that may give, mm: the one wanted, and the smallest."""

    side: Side
    names: tuple[str, ...]
    wanted_mm: float
    least_mm: float


def size_mm(part: Part, side: Side) -> float:
    """Return the finished size of a part on one side."""
    return part.length_mm if side == "length" else part.width_mm


def range_mm(part: Part, side: Side) -> tuple[float, float]:
    """Return how small and how large a side may be; the size itself where it does not give."""
    low, high = (
        (part.length_min_mm, part.length_max_mm)
        if side == "length"
        else (part.width_min_mm, part.width_max_mm)
    )
    size = size_mm(part, side)
    return (size if low is None else low, size if high is None else high)


def givings_of(parts: PartsList) -> tuple[Giving, ...]:
    """Return every size that may give, rows of one ``equal`` name together.

    Raises
    ------
    PlacementError
        Rows that are to be equal have no size in common.
    """
    found = []
    for side, rows in _rows_together(parts):
        low = max(range_mm(part, side)[0] for part in rows)
        high = min(range_mm(part, side)[1] for part in rows)
        names = tuple(part.name for part in rows)
        if low > high + 1e-9:
            raise PlacementError(
                f"{' and '.join(names[:3])} are to be equal, but no {side} suits them all",
                f"widen {side}_min or {side}_max, or take them out of {rows[0].equal}",
            )
        wanted = min(max(min(size_mm(part, side) for part in rows), low), high)
        found.append(Giving(side, names, wanted, low))
    return tuple(found)


def _rows_together(parts: PartsList) -> Iterator[tuple[Side, list[Part]]]:
    """Yield the rows that share one size; a side on which no row gives is left as it is."""
    sides: tuple[Side, Side] = ("length", "width")
    for side in sides:
        groups: dict[str, list[Part]] = {}
        for n, part in enumerate(parts):
            groups.setdefault(part.equal or f"\0{n}", []).append(part)
        for rows in groups.values():
            if any(range_mm(part, side) != (size_mm(part, side),) * 2 for part in rows):
                yield side, rows


def sized(parts: PartsList, sizes: Mapping[Giving, float]) -> PartsList:
    """Return the parts at these sizes; what a copy counts stays what it was."""
    made = {part.name: part for part in parts}
    for giving, size in sizes.items():
        for name in giving.names:
            made[name] = (
                replace(made[name], length_mm=size)
                if giving.side == "length"
                else replace(made[name], width_mm=size)
            )
    return tuple(_counting_alike(made[part.name], part) for part in parts)


def _counting_alike(made: Part, part: Part) -> Part:
    if (made.length_mm, made.width_mm) == (part.length_mm, part.width_mm):
        return part
    share = part.length_mm * part.width_mm / (made.length_mm * made.width_mm)
    return replace(made, priority=part.priority * share)


def fixed_sizes(
    givings: Sequence[Giving], parts: PartsList, kept: Sequence[Placement], shop: Shop
) -> dict[Giving, float]:
    """Return the sizes that are settled, because a part of that size is cut or locked."""
    settled = {}
    made = {part.name: part for part in parts_as_made(parts, kept, shop)}
    for giving in givings:
        begun = [name for name in giving.names if any(p.part == name for p in kept)]
        if begun:
            settled[giving] = size_mm(made[begun[0]], giving.side)
    return settled


def parts_as_made(parts: PartsList, placements: Sequence[Placement], shop: Shop) -> PartsList:
    """Return the parts list with the finished sizes that the placements have.

    A size that does not give is the list's own, whatever was cut before the list was changed.
    """
    first: dict[str, Placement] = {}
    for p in whole_panels(placements, shop):
        first.setdefault(p.part, p)
    made = []
    for part in parts:
        own = first.get(part.name)
        length, width = rough_size_mm(part, shop)
        longer = own.length_mm - length if own is not None and _gives(part, "length") else 0.0
        wider = own.width_mm - width if own is not None and _gives(part, "width") else 0.0
        if abs(longer) > 0.01 or abs(wider) > 0.01:
            made.append(
                replace(part, length_mm=part.length_mm + longer, width_mm=part.width_mm + wider)
            )
        else:
            made.append(part)
    return tuple(made)


def _gives(part: Part, side: Side) -> bool:
    low, high = range_mm(part, side)
    return low < high


def sizes_said(parts: PartsList, placements: Sequence[Placement], shop: Shop) -> tuple[str, ...]:
    """Return one sentence for each part that is not made at the size that was wanted."""
    said = []
    sawn = {p.part for p in placements if p.state in SAWN_OUT}
    for part, made in zip(parts, parts_as_made(parts, placements, shop), strict=True):
        for side, word in _SIDES:
            wanted, size = size_mm(part, side), size_mm(made, side)
            if abs(wanted - size) > 0.01:
                said.append(
                    f"{part.name} is {length_text(size, shop.units)} {word} here instead of "
                    f"{length_text(wanted, shop.units)}: within its range, "
                    + ("and cut so already." if part.name in sawn else "so that more fits.")
                )
    return (*said, *_cut_larger(parts, placements, shop))


def _cut_larger(parts: PartsList, placements: Sequence[Placement], shop: Shop) -> Iterator[str]:
    """Yield one sentence for each part of which copies were cut larger than the list asks now."""
    for part in parts:
        length, width = rough_size_mm(part, shop)
        larger = sorted(
            {
                p.copy
                for p in placements
                if p.part == part.name
                and p.state in SAWN_OUT
                and (
                    (p.length_mm > length + 0.01 and not _gives(part, "length"))
                    or (p.width_mm > width + 0.01 and not _gives(part, "width") and p.stave is None)
                )
            }
        )
        if larger:
            copies = ", ".join(map(str, larger))
            yield (
                f"{part.name} {copies} was cut larger than the list asks now: cut it down to"
                f" {size_text(length, width, shop.units)} rough."
                if len(larger) == 1
                else f"{part.name} {copies} were cut larger than the list asks now: cut them down"
                f" to {size_text(length, width, shop.units)} rough."
            )
