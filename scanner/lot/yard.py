"""Boards drawn at random, like those of a grade at the yard: for asking "how much to buy?".

Published means drive the draw (red oak of the Appalachians, Wiedenbeck, Gatchell and Walker 1995):
surface measure, share of the face that is flaw, share of boards with pith and with crook, and that
about 89 % of the flaw area is unsound. Retail boards are some 4-12 in wide and 6-14 ft long. How
the flaw area is divided (wane, knots, bark pockets are the three main kinds), how large knots are
and how widths scatter is our own choice, no source. Clear two-face strips then yield 76 % of FAS
and 53 % of No. 1 Common; mills report 70 and 59 % (an extension specialist). So the answers
are for planning.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtri
from shapely.geometry import Polygon, box

from scanner.board.board import Board, End, Face, Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES
from scanner.board.volume import thickness_of_class
from scanner.units import MM_PER_INCH


@dataclass(frozen=True, slots=True)
class GradeFacts:
    """What is published of the boards of a grade.

    Attributes
    ----------
    mean_measure
        Mean surface measure, square feet.
    flaw_share
        Mean share of the face that is flaw.
    pith_share, crook_share
        Share of boards with pith; with crook of 1/2 in and more. FAS and Selects: not published,
        taken as none.
    least_width_in, least_length_ft
        Of the grade.
    """

    mean_measure: float
    flaw_share: float
    pith_share: float
    crook_share: float
    least_width_in: float
    least_length_ft: int


GRADES: Mapping[str, GradeFacts] = {
    "FAS": GradeFacts(9.1, 0.012, 0.0, 0.0, 6, 8),
    "Selects": GradeFacts(7.5, 0.023, 0.0, 0.0, 4, 6),
    "1C": GradeFacts(6.3, 0.068, 0.09, 0.25, 3, 4),
    "2A": GradeFacts(6.2, 0.098, 0.19, 0.25, 3, 4),
}

# Hardwood is sold in these lengths for the most part (a choice within the rules' 4 to 16 ft).
_LENGTHS_FT = (6, 14)
# Odd feet are 13.7 % of red oak 4/4 boards (Wiedenbeck, Brown and Bennett 2003).
_ODD_SHARE = 0.137
_WIDTHS_IN = (4.0, 12.0)
_WIDTH_SPREAD = 0.28  # of the logarithm; our choice
_UNSOUND_SHARE = 0.89
# Our division of the flaw area: wane, knots, bark pockets.
_KINDS = ((FlawKind.WANE, 0.35), (FlawKind.KNOT, 0.45), (FlawKind.BARK_POCKET, 0.20))
_KNOT_MM = (15.0, 75.0)


def draw_board(
    grade: str, species: str, quarters: int, rng: np.random.Generator, id: str = "Y1"
) -> Board:
    """Return one board as a yard might have it, looked over, so that every flaw counts as seen.

    Parameters
    ----------
    grade
        A key of ``GRADES``.
    quarters
        Thickness class; the board is 1/16 in over it, as rough boards are.
    """
    facts = GRADES[grade]
    length_ft, width_in = _size(facts, rng)
    length, width = length_ft * 12 * MM_PER_INCH, width_in * MM_PER_INCH
    bend = abs(rng.normal(0, _sd_for(facts.crook_share))) if facts.crook_share else 0.0
    outline = _outline(length, width, bend)
    face = Face(outline, looked_over=True)
    stations = tuple(Station(length * share, Measured(width, 1.0)) for share in STATION_SHARES)
    return Board(
        id=id,
        species=species,
        thickness=Measured(thickness_of_class(quarters).value_mm, 1.0),
        length=Measured(length, 1.0),
        widths=stations,
        faces={1: face, 2: face},
        flaws=_flaws(facts, length, width, rng),
        ends={"A": End(), "B": End()},
        warp=Warp(crook_mm=bend),
    )


def _size(facts: GradeFacts, rng: np.random.Generator) -> tuple[int, float]:
    """Return length in feet and width in inches whose mean surface measure is the grade's."""
    lengths = _lengths_ft(facts)
    is_odd = rng.random() < _ODD_SHARE
    length = int(rng.choice(lengths[lengths % 2 == (1 if is_odd else 0)]))
    drawn = _middle_width_in(facts) * math.exp(rng.normal(0, _WIDTH_SPREAD))
    return length, float(np.clip(drawn, *_widths_in(facts)))


def _lengths_ft(facts: GradeFacts) -> NDArray[np.int64]:
    return np.arange(max(_LENGTHS_FT[0], facts.least_length_ft), _LENGTHS_FT[1] + 1)


def _widths_in(facts: GradeFacts) -> tuple[float, float]:
    return max(_WIDTHS_IN[0], facts.least_width_in), _WIDTHS_IN[1]


@cache
def _middle_width_in(facts: GradeFacts) -> float:
    """Return the median width whose clipped scatter gives the grade's mean surface measure."""
    lengths = _lengths_ft(facts)
    even, odd = lengths[lengths % 2 == 0].mean(), lengths[lengths % 2 == 1].mean()
    wanted = facts.mean_measure * 12 / float((1 - _ODD_SHARE) * even + _ODD_SHARE * odd)
    scatter = np.exp(_WIDTH_SPREAD * ndtri((np.arange(400) + 0.5) / 400))

    def miss(middle: float) -> float:
        return float(np.clip(middle * scatter, *_widths_in(facts)).mean()) - wanted

    return float(brentq(miss, 1.0, 40.0))


def _sd_for(share: float) -> float:
    """Return the spread of a half-normal crook of which this share is 1/2 in and more."""
    return float(0.5 * MM_PER_INCH / ndtri(1 - share / 2))


def _outline(length: float, width: float, bend: float) -> Polygon:
    x = np.linspace(0.0, length, 9)
    lift = bend * (1 - (2 * x / length - 1) ** 2)
    upper = np.column_stack([x, lift])
    lower = np.column_stack([x, lift + width])[::-1]
    return Polygon(np.vstack([upper, lower]))


def _flaws(
    facts: GradeFacts, length: float, width: float, rng: np.random.Generator
) -> tuple[Flaw, ...]:
    """Return flaws whose area is, over many boards, the grade's share of the face."""
    # A flaw shows on one face or, half of them, on both: three quarters of the area a face.
    area = rng.exponential(facts.flaw_share) / 0.75 * length * width
    found: list[tuple[FlawKind, Polygon, bool, bool]] = []
    for kind, share in _KINDS:
        left = share * area
        while left > 60.0 and len(found) < 40:
            shape = _shape(kind, left, length, width, rng)
            is_sound = kind is FlawKind.KNOT and rng.random() > _UNSOUND_SHARE
            found.append((kind, shape, is_sound, rng.random() < 0.5))
            left -= shape.area
    if rng.random() < facts.pith_share:
        reach = rng.uniform(0.1, 0.5) * length
        start = rng.uniform(0, length - reach)
        pith = box(start, width / 2 - 5, start + reach, width / 2 + 5)
        found.append((FlawKind.PITH, pith, False, False))
    return tuple(
        Flaw(
            f"F{number}",
            kind,
            {1: shape, 2: shape} if through else {int(rng.integers(1, 3)): shape},
            sound=is_sound if kind is FlawKind.KNOT else None,
            is_through=through,
            state=FlawState.ADDED,
        )
        for number, (kind, shape, is_sound, through) in enumerate(found, 1)
    )


def _shape(
    kind: FlawKind, left: float, length: float, width: float, rng: np.random.Generator
) -> Polygon:
    """Return one flaw of at most the area that is left."""
    if kind is FlawKind.WANE:
        deep = rng.uniform(0.05, 0.2) * width
        long = min(left / deep, 0.5 * length)
        x = rng.choice([0.0, length - long])
        y = 0.0 if rng.random() < 0.5 else width - deep
        return box(x, y, x + long, y + deep)
    size = min(rng.uniform(*_KNOT_MM), math.sqrt(left))
    long = 2.5 * size if kind is FlawKind.BARK_POCKET else size
    high = size / 2.5 if kind is FlawKind.BARK_POCKET else size
    x, y = rng.uniform(0, length - long), rng.uniform(0, width - high)
    return box(x, y, x + long, y + high)
