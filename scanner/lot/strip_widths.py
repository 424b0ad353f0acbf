"""Which widths of boards a list asks for: what fits side by side, and what width is wasted.

Why 7 in boards cannot give two 4 in parts: each strip takes its part's width with the allowance,
a saw cut lies between two, and both edges lose what is not sure to be wood.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from scanner.lot.need import Need
from scanner.lot.ripped import as_bought
from scanner.placement.parts import Part
from scanner.placement.rules.ground import margin_mm
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.units import MM_PER_INCH, exact_text, percent_text

# Whole inches: retail boards are some 4 to 12 in wide.
RACK_MM = tuple(MM_PER_INCH * inches for inches in range(4, 13))
# A board's outline is known this well once it is scanned or taped, one U.
_OUTLINE_U_MM = 1.0
_STEPS_PER_MM = 2
# Rows of the list that are told one by one.
_TOLD = 3
_MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class WidthUse:
    """Boards of one width for the whole list.

    Attributes
    ----------
    width_mm
        Of the boards.
    used
        Share of their width that becomes finished parts; None where some part is too wide for them.
    """

    width_mm: float
    used: float | None


def strip_mm(part: Part, shop: Shop) -> float:
    """Return the width of the strip that a part is ripped from."""
    return rough_size_mm(part, shop)[1]


def board_for(strips: int, part: Part, shop: Shop) -> float:
    """Return how wide a board must be for so many strips of a part side by side, mm."""
    between = (strips - 1) * shop.kerf_mm
    return strips * strip_mm(part, shop) + between + 2 * edge_mm(shop)


def strips_in(width_mm: float, part: Part, shop: Shop) -> int:
    """Return how many strips of a part a board of this width gives."""
    room = width_mm - 2 * edge_mm(shop) + shop.kerf_mm
    return max(int((room + 1e-6) // (strip_mm(part, shop) + shop.kerf_mm)), 0)


def width_uses(
    need: Need, shop: Shop, widths_mm: Sequence[float] = RACK_MM
) -> tuple[WidthUse, ...]:
    """Return for each width of board how much of it a list would use, at best.

    Lengths are taken as running lengths, so real lots do a little worse; the best division of a
    width into strips is a linear programme whose columns are made when they pay (P. Gilmore and
    R. Gomory, Operations Research 9, 1961).
    """
    return tuple(WidthUse(width, _used(need, shop, width)) for width in widths_mm)


def width_lines(need: Need, shop: Shop) -> tuple[str, ...]:
    """Return in words how boards' widths go with a list: what fits, what to ask for."""
    units = shop.units
    ripped = as_bought(need.parts, shop)
    rows = sorted(ripped, key=lambda p: -p.quantity * p.length_mm * p.width_mm)
    lines = []
    for part in rows[:_TOLD]:
        one, two = (exact_text(board_for(n, part, shop), units) for n in (1, 2))
        lines.append(
            f"{part.name}: one strip needs a board {one} wide, two {two}" + _too_narrow(part, shop)
        )
    uses = [use for use in width_uses(need, shop) if use.used is not None]
    if not uses:
        lines.append("no board of up to 12 in is wide enough for every part: glue the widest up")
        return tuple(lines)
    best = max(uses, key=lambda use: use.used or 0.0)
    each = ", ".join(
        f"{use.width_mm / MM_PER_INCH:.0f} in {percent_text(use.used or 0.0)}" for use in uses
    )
    lines.append(
        f"ask for boards {_rack_text(best.width_mm, units)} wide: of their width most becomes parts"
        f" ({each}{_left_out(len(uses))})"
    )
    return tuple(lines)


def _too_narrow(part: Part, shop: Shop) -> str:
    """Return what a board gives that looks wide enough for one strip more than it holds."""
    for width in RACK_MM:
        count = strips_in(width, part, shop)
        if count and (count + 1) * part.width_mm <= width + MM_PER_INCH:
            more = board_for(count + 1, part, shop) - width
            return (
                f"; a board {_rack_text(width, shop.units)} wide gives {count}: it lacks"
                f" {exact_text(more, shop.units)} for {count + 1}"
            )
    return ""


def _left_out(told: int) -> str:
    return "; narrower ones do not hold every part" if told < len(RACK_MM) else ""


def _rack_text(width_mm: float, units: str) -> str:
    """Return whole inches, as a rack has them, with millimetres for those who think in them."""
    inches = f"{width_mm / MM_PER_INCH:.0f} in"
    return inches if units == "inch" else f"{inches} ({width_mm:.0f} mm)"


def edge_mm(shop: Shop) -> float:
    """Return what each edge of a board loses that is not sure to be wood, mm."""
    return margin_mm(_OUTLINE_U_MM, 0.0, 0.0, shop)


def _used(need: Need, shop: Shop, width_mm: float) -> float | None:
    """Return the share of boards of one width that becomes parts, None where some do not fit."""
    parts = as_bought(need.parts, shop)
    strips = np.array([strip_mm(part, shop) for part in parts])
    room = width_mm - 2 * edge_mm(shop)
    if strips.max() > room + 1e-6:
        return None
    run = np.array([(p.quantity + p.spares) * p.length_mm for p in parts])
    finished = float(run @ np.array([part.width_mm for part in parts]))
    sizes = np.ceil((strips + shop.kerf_mm) * _STEPS_PER_MM - 1e-6).astype(int)
    whole = int((room + shop.kerf_mm) * _STEPS_PER_MM + 1e-6)
    sizes = np.minimum(sizes, whole)
    ways = np.diag(whole // sizes).astype(float)
    total = 0.0
    for _ in range(_MOST_ROUNDS):
        solved = linprog(np.ones(ways.shape[1]), A_ub=-ways, b_ub=-run, method="highs")
        total = float(np.asarray(solved.fun))
        prices = -np.asarray(solved.ineqlin.marginals)
        way, worth = _dearest(sizes, prices, whole)
        if worth <= 1 + 1e-7:
            break
        ways = np.column_stack([ways, way])
    return finished / (total * width_mm)


def _dearest(sizes: np.ndarray, prices: np.ndarray, whole: int) -> tuple[np.ndarray, float]:
    """Return how often each strip is taken in the division of a width that is worth most."""
    best = np.zeros(whole + 1)
    last = np.full(whole + 1, -1)
    for at in range(1, whole + 1):
        best[at] = best[at - 1]
        for n, size in enumerate(sizes):
            if size <= at and best[at - size] + prices[n] > best[at] + 1e-12:
                best[at], last[at] = best[at - size] + prices[n], n
    way, at = np.zeros(len(sizes)), whole
    while at > 0:
        if last[at] < 0:
            at -= 1
            continue
        way[last[at]] += 1
        at -= sizes[last[at]]
    return way, float(best[whole])
