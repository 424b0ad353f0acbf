"""Surface measure, board feet, thickness classes (NHLA rules, general instructions)."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from scanner.board.measured import Measured
from scanner.units import MM_PER_INCH

# Millimetres do not always come back as the whole inches they were made from.
_ROUNDING_IN = Fraction(1, 10**6)
# Nor exact halves: files hold hundredths of a millimetre, which move a surface measure by 0.0003 at
# most, and no other width in sixteenths comes nearer to a half than 1/192.
_HALF = Fraction(1, 2000)
# A rough board is sawn about 1/16 in over its class, and nobody measured it; a caliper on rough
# wood is good to a millimetre.
_OVER_CLASS_MM, _CLASS_U_MM = 1.6, 2.0
CALIPER_U_MM = 1.0
# Beyond these a thickness was mistyped (mm for inches); rough boards have some 12 to 80 mm.
THINNEST_MM, THICKEST_MM = 6.0, 110.0
# No board or slab is longer or wider, none shorter or narrower is called one: the unit went
# missing, or was the wrong one.
SHORTEST_MM, LONGEST_MM = 100.0, 20_000.0
NARROWEST_MM, WIDEST_MM = 15.0, 3_000.0


def raw_surface_measure(width_in: Fraction | float, length_in: Fraction | float) -> Fraction:
    """Return width in inches times whole feet of length over 12, unrounded, in square feet."""
    return Fraction(width_in) * whole_feet(length_in) / 12


def whole_feet(length_in: Fraction | float) -> int:
    """Return the length that is paid for: fractions of a foot are dropped (NHLA)."""
    return int((Fraction(length_in) + _ROUNDING_IN) // 12)


@dataclass(slots=True)
class Tally:
    """A tally, board after board: an exact half goes up, then down, in turn (NHLA)."""

    _up_next: bool = True

    def surface_measure(self, width_in: Fraction | float, length_in: Fraction | float) -> int:
        """Return the surface measure of the next board in whole square feet."""
        return self._whole(raw_surface_measure(width_in, length_in))

    def bundle_width_in(self, width_in: Fraction | float) -> int:
        """Return the width of the next board as an export bundle tally has it, whole inches.

        From the American hardwood exporters' guide to measuring sawn lumber; the tally of record
        goes by surface measure, whose width is not rounded.
        """
        return self._whole(Fraction(width_in))

    def _whole(self, raw: Fraction) -> int:
        whole, rest = divmod(raw, 1)
        if abs(rest - Fraction(1, 2)) < _HALF:
            up, self._up_next = self._up_next, not self._up_next
            return int(whole) + (1 if up else 0)
        return int(whole) + (1 if rest > Fraction(1, 2) else 0)


def board_feet(surface_measures: Iterable[int], quarters: int) -> Fraction:
    """Return board feet of boards of one thickness class; under 4/4 counts as 4/4 (NHLA)."""
    return sum(surface_measures, 0) * Fraction(max(quarters, 4), 4)


def lot_board_feet(tallied: Iterable[tuple[int, int]]) -> Fraction:
    """Return board feet of a lot of (quarters, surface measure), not rounded.

    The whole-foot surface measures of one thickness are added, then multiplied (NHLA).
    """
    by_class: dict[int, list[int]] = {}
    for quarters, measure in tallied:
        by_class.setdefault(quarters, []).append(measure)
    return sum((board_feet(sms, quarters) for quarters, sms in by_class.items()), Fraction(0))


def quarters_of(thickness_mm: float) -> int:
    """Return the thickness class that a rough board is sold as.

    The largest class whose full thickness less 1/16 in the board still has: kiln-dried lumber may
    be 1/16 scant (NHLA 2019 paragraph 9).
    """
    classes = (2, 3, 4, 5, 6, 8, 10, 12, 16)
    sixteenths = thickness_mm / MM_PER_INCH * 16 + 1
    fitting = [n for n in classes if n * 4 <= sixteenths + 1e-6]
    return fitting[-1] if fitting else classes[0]


def thickness_of_class(quarters: int) -> Measured:
    """Return the thickness to expect of a rough board sold as n/4, which nobody measured."""
    return Measured(quarters * MM_PER_INCH / 4 + _OVER_CLASS_MM, _CLASS_U_MM)


def is_measured(thickness: Measured) -> bool:
    """Whether somebody measured a thickness; of a class such as 4/4 nobody did."""
    return thickness.u_mm < _CLASS_U_MM


def sawn_width_mm(widths_mm: Iterable[float]) -> float:
    """Return the mean of the station widths, for board feet of a board of uneven width."""
    values = list(widths_mm)
    if not values:
        raise ValueError("no widths")
    return math.fsum(values) / len(values)
