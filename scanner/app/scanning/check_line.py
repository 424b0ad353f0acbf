"""The errand "is this story stick true?": the check line of a print as it was measured.

Apart from making sticks: the page asks this of each stick, and loads nothing that draws or places.
"""

from __future__ import annotations

from dataclasses import dataclass

from scanner.errors import SettingsError
from scanner.files.typed import read_size

# A rule reads to a quarter of a millimetre: what is nearer than this cannot be told from right.
_READ_MM = 0.25
# A printer further off than this is set to "fit to page": mend that first.
_MOST_OFF = 0.03


@dataclass(frozen=True, slots=True)
class CheckLine:
    """The 250.0 mm of a print as measured, whether they are true, and what follows in words."""

    measured_mm: float
    is_true: bool
    words: str


def read_check_line(typed: str) -> CheckLine:
    """Return what a measured check line says of the story stick in hand.

    Raises
    ------
    SettingsError
        No length, or one that no print at 100 % can have.
    """
    measured = read_size(typed, "the printed line")
    if abs(measured / 250.0 - 1) > _MOST_OFF:
        raise SettingsError(
            f"a line of {measured:.1f} mm means that the page was scaled",
            "print at 100 % (never fit to page) and measure again",
        )
    if abs(measured - 250.0) <= _READ_MM:
        return CheckLine(measured, True, "The print is true: the stick may be used.")
    off = abs(measured - 250.0) / 250.0 * 100
    way = "long" if measured > 250.0 else "short"
    words = (
        f"Do not use this print: it came out {off:.1f} % too {way}. Print it again from the link"
        " below, which makes up for it, and measure the line once more."
    )
    return CheckLine(measured, False, words)
