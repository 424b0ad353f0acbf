"""`Looks`: what a board looks like, and how unlike two boards are.

All is of the rough faces, as they lie: dust, weather and saw marks change a colour, and planed wood
may look otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

# Storage reads the fields' types at run time.
from scanner.board.ring_series import RingSeries  # noqa: TC001

Figure = Literal["cathedral", "straight"]
Lab = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Looks:
    """Colour, rings and figure of a board's clear wood; what is not known is None.

    Attributes
    ----------
    lab, spread
        CIELAB against white paper in the same light, heartwood where the board has both kinds; and
        how much 8 mm patches differ from it (delta E 1976).
    sap_lab
        Of the sapwood, where the board has both kinds.
    ring_mm
        From one growth ring to the next, square to the rings.
    contrast
        How strongly the rings show: spread of the logarithm of light across them.
    figure
        "cathedral" where arches stand on a face, "straight" where lines run.
    flat_share
        Share of both faces' width where the rings lie flatter than 45 degrees to the face.
    heart_face
        The face nearer to the pith: a guess, since a face shows what the grain does on it and not
        what it does inside. None where both would do.
    rings
        The rings in their order, by face and side of the pith; empty where none were read.
    """

    lab: Lab | None = None
    spread: float | None = None
    sap_lab: Lab | None = None
    ring_mm: float | None = None
    contrast: float | None = None
    figure: Figure | None = None
    flat_share: float | None = None
    heart_face: int | None = None
    rings: tuple[RingSeries, ...] = ()


# How much a board differs from others of its log, one sd, photographs' error included: colour in
# L*, a*, b*; logarithms of ring spacing and contrast; the share that is flat.
# `python -m tests.bench.likeness --fit`, development lots.
_COLOUR_SD = (1.3, 0.55, 1.2)
_RING_SD = 0.24
_CONTRAST_SD = 0.15
_FLAT_SD = 0.35
# Two boards of which one does not tell count as far apart as any two of a lot, in such sd.
_UNKNOWN = 1.5

Aspect = Literal["colour", "rings", "contrast", "figure"]
ASPECTS: tuple[Aspect, ...] = get_args(Aspect)
# Of development lots (3000-3023) 61 % of boards find one of their log so; equal weights 58 %. The
# figure tells nothing of the log, but the eye goes by it.
_WEIGHTS: dict[Aspect, float] = {"colour": 3.0, "rings": 0.5, "contrast": 0.5, "figure": 0.25}


def unlikeness(one: Looks, other: Looks, by: tuple[Aspect, ...] = ASPECTS) -> float | None:
    """Return how unlike two boards look: 0 alike, about 1 for boards of one log.

    None where both know no aspect in common, or one of them looks like nothing that is known.

    Parameters
    ----------
    by
        The aspects to go by.
    """
    apart = aspects_apart(one, other)
    if all(apart[aspect] is None for aspect in by):
        return None
    squares = [
        _WEIGHTS[aspect] * (_UNKNOWN if apart[aspect] is None else apart[aspect] or 0.0) ** 2
        for aspect in by
    ]
    return math.sqrt(sum(squares) / sum(_WEIGHTS[aspect] for aspect in by))


def aspects_apart(one: Looks, other: Looks) -> dict[Aspect, float | None]:
    """Return by aspect how far two boards are apart, 1 as boards of one log are; None unknown."""
    return {
        "colour": _colours_apart(one, other),
        "rings": _shares_apart(one.ring_mm, other.ring_mm, _RING_SD),
        "contrast": _shares_apart(one.contrast, other.contrast, _CONTRAST_SD),
        "figure": None
        if one.flat_share is None or other.flat_share is None
        else abs(one.flat_share - other.flat_share) / (math.sqrt(2) * _FLAT_SD),
    }


def _colours_apart(one: Looks, other: Looks) -> float | None:
    """Return how far colours are apart, like wood against like: heart with heart, sap with sap.

    A board of one kind may be all heart or all sap; it is held against the nearer of both.
    """
    if one.lab is None or other.lab is None:
        return None
    if one.sap_lab is not None and other.sap_lab is not None:
        return _apart(one.lab, other.lab)
    mine = [lab for lab in (one.lab, one.sap_lab) if lab is not None]
    theirs = [lab for lab in (other.lab, other.sap_lab) if lab is not None]
    return min(_apart(a, b) for a in mine for b in theirs)


def _apart(one: Lab, other: Lab) -> float:
    steps = [(a - b) / sd for a, b, sd in zip(one, other, _COLOUR_SD, strict=True)]
    return math.sqrt(sum(step * step for step in steps) / (2 * len(steps)))


def _shares_apart(one: float | None, other: float | None, sd: float) -> float | None:
    if one is None or other is None:
        return None
    return abs(math.log(one / other)) / (math.sqrt(2) * sd)


def colour_apart(one: Looks, other: Looks) -> float | None:
    """Return delta E of 1976 between two boards' clear wood (ISO/CIE 11664-4)."""
    if one.lab is None or other.lab is None:
        return None
    return math.dist(one.lab, other.lab)
