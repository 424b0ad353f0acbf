"""What each grade asks of a board (NHLA rules for hardwood lumber).

Sizes, yields and formulas as the association and its European partner print them in their summary
charts; the greatest numbers of cuttings, the bands of the extra cutting and the specials from a
distributor's chart of the same rules; long pieces from page 22 of the rules of 2015.
"""

from dataclasses import dataclass, field
from enum import StrEnum

FULL_YIELD = 12.0  # cutting units of a clear board: surface measure x 12
# A piece over 17 ft that contains more than 16 ft of surface measure may take one cutting more for
# each further 4 ft, and 7 at most (2015, page 22). Lengths that great are sold when specified, and
# count in whole feet like any other: 17 ft 6 in is 17 ft.
_LONG_OVER_FT, _LONG_OVER_MEASURE, _LONG_EACH, _LONG_MOST = 17, 16, 4, 7
# Millimetres do not always come back as the whole feet they were made from.
ROUNDING_FT = 1e-6


class Grade(StrEnum):
    """The standard grades, best first; what fits none is below grade."""

    FAS = "FAS"
    F1F = "FAS One Face"
    SELECTS = "Selects"
    COMMON_1 = "No. 1 Common"
    COMMON_2A = "No. 2A Common"
    COMMON_3A = "No. 3A Common"
    BELOW = "below No. 3A Common"


@dataclass(frozen=True, slots=True)
class FaceRule:
    """What one face must yield.

    Attributes
    ----------
    board_in, board_ft
        Narrowest and shortest board.
    cuttings
        Least sizes of a cutting, each width in inches and length in feet; one of them must hold.
    factor
        Cutting units needed: surface measure x factor.
    add, divisor, most
        Number of cuttings: (surface measure + add) / divisor, fractions dropped, at most ``most``;
        no limit where ``divisor`` is 0.
    extra
        Surface measures (first, last) that may take one cutting more, at ``extra_factor``.
    has_long
        Whether a long piece may take more cuttings than ``most``.
    specials
        Surface measure to the factor asked of a board that small, in one cutting.
    """

    board_in: float
    board_ft: float
    cuttings: tuple[tuple[float, float], ...]
    factor: float
    add: int
    divisor: int
    most: int
    extra: tuple[int, int] = (0, -1)
    extra_factor: float = 0.0
    has_long: bool = False
    specials: dict[int, float] = field(default_factory=dict)

    def trials(self, measure: int, length_ft: float = 0.0) -> tuple[tuple[int, float], ...]:
        """Return the ways to pass: number of cuttings and units needed (0 = any number).

        Parameters
        ----------
        measure
            Surface measure, whole square feet.
        length_ft
            Of the board.
        """
        if self.divisor == 0:
            return ((0, measure * self.factor),)
        if measure in self.specials:
            return ((1, measure * self.specials[measure]),)
        count = min((measure + self.add) // self.divisor, self.most)
        if self.has_long and int(length_ft + ROUNDING_FT) > _LONG_OVER_FT:
            more = max(measure - _LONG_OVER_MEASURE, 0) // _LONG_EACH
            count = min(count + more, _LONG_MOST)
        ways = [(count, measure * self.factor)] if count else []
        if count and self.extra[0] <= measure <= self.extra[1]:
            ways.append((count + 1, measure * self.extra_factor))
        return tuple(ways)


FAS = FaceRule(
    board_in=6,
    board_ft=8,
    cuttings=((4, 5), (3, 7)),
    factor=10,
    add=0,
    divisor=4,
    most=4,
    extra=(6, 15),
    extra_factor=11,
    has_long=True,
)
COMMON_1 = FaceRule(
    board_in=3,
    board_ft=4,
    cuttings=((4, 2), (3, 3)),
    factor=8,
    add=1,
    divisor=3,
    most=5,
    extra=(3, 10),
    extra_factor=9,
    has_long=True,
    specials={1: FULL_YIELD, 2: 9},
)
COMMON_2A = FaceRule(
    board_in=3,
    board_ft=4,
    cuttings=((3, 2),),
    factor=6,
    add=0,
    divisor=2,
    most=7,
    extra=(2, 7),
    extra_factor=8,
    specials={1: 8},
)
COMMON_3A = FaceRule(board_in=3, board_ft=4, cuttings=((3, 2),), factor=4, add=0, divisor=0, most=0)

# FAS, 6 in and wider, surface measure 6 to 12: two cuttings over the full width, of any length.
FULL_WIDTH_MEASURES = (6, 12)
FULL_WIDTH_FACTOR = 11.64
# Selects may be as small as this; a better face of surface measure 2 or 3 passes with one cutting.
SELECTS_BOARD_IN, SELECTS_BOARD_FT = 4, 6
SELECTS_SMALL = (2, 3)
SELECTS_SMALL_FACTOR = 11
