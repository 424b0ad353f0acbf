"""The validator's own view of sizes that may give: within their range, equal where asked."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from scanner.placement.layout import Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.validator.limits import TOLERANCE_MM
from scanner.placement.validator.objection import Objection, Rule, rows_of

Pair = tuple[float, float]


def finished_size_mm(p: Placement, part: Part, shop: Shop) -> Pair:
    """Return length and width of what is placed without its allowances."""
    along = part.length_allowance_mm
    across = part.width_allowance_mm
    return (
        p.length_mm - (shop.length_allowance_mm if along is None else along),
        p.width_mm - (shop.width_allowance_mm if across is None else across),
    )


def size_ranges_mm(part: Part) -> tuple[Pair, Pair]:
    """Return the least length and width that are allowed, and the largest."""

    def or_size(limit: float | None, size: float) -> float:
        return size if limit is None else limit

    least = or_size(part.length_min_mm, part.length_mm), or_size(part.width_min_mm, part.width_mm)
    most = or_size(part.length_max_mm, part.length_mm), or_size(part.width_max_mm, part.width_mm)
    return least, most


def size_objections(
    placements: Sequence[Placement], parts: PartsList, shop: Shop
) -> Iterator[Objection]:
    """Say where copies of one row, or rows that are to be equal, differ in a size that gives."""
    groups: dict[str, list[Part]] = defaultdict(list)
    for part in parts:
        groups[part.equal or f"row {part.name}"].append(part)
    for name, rows in groups.items():
        row_of = {part.name: part for part in rows}
        for n, side in enumerate(("length", "width")):
            gives = any(
                least[n] < most[n] for least, most in (size_ranges_mm(part) for part in rows)
            )
            sizes = [
                finished_size_mm(p, row_of[p.part], shop)[n] for p in placements if p.part in row_of
            ]
            if gives and sizes and max(sizes) - min(sizes) > 2 * TOLERANCE_MM:
                low, high = min(sizes), max(sizes)
                words = f"{name}: its parts are not of one {side}, {low:.1f} to {high:.1f}"
                yield Objection(Rule.EQUAL, words, parts=rows_of(*row_of))
