"""A length with its ± half-width; rounding for display."""

import math
from dataclasses import dataclass

from scanner.units import MM_PER_INCH, inches_text


@dataclass(frozen=True, slots=True)
class Measured:
    """A length in mm and U, the half-width of its 95 % interval (JCGM 100:2008, k = 2)."""

    value_mm: float
    u_mm: float

    def text(self, units: str = "mm") -> str:
        """Return the length with its U and no more digits than U deserves."""
        if units == "inch":
            return f"{inches_text(self.value_mm)} ± {inch_u_text(self.u_mm)}"
        decimals = 0 if self.u_mm >= 2.0 else 1
        u = math.ceil(self.u_mm * 10**decimals - 1e-9) / 10**decimals
        return f"{self.value_mm:.{decimals}f} ± {u:.{decimals}f} mm"


def inch_u_text(u_mm: float) -> str:
    """Return U in inches, rounded up to the next sixteenth (a smaller U would be a boast)."""
    sixteenths = max(1, math.ceil(u_mm / MM_PER_INCH * 16 - 1e-9))
    return inches_text(sixteenths * MM_PER_INCH / 16)
