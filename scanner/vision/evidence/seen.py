"""What was found in one photo: markers of strip and arms, plain rules, and the photo's lens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scanner.vision.evidence.observations import Floats, LensPrior


@dataclass(frozen=True, slots=True)
class Bleed:
    """By how much black reaches over its drawn edges along and across a print, with sd, mm."""

    value_mm: tuple[float, float]
    sd_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class SeenMarkers:
    """Markers of strip and arms in one photo: ids (N,), corners (N, 4, 2) px, sd (N,) px.

    ``bleed`` is what their codes tell of it; None: not measured. ``doubts`` are sentences for the
    user about how the strip is glued.
    """

    ids: NDArray[np.int_]
    corners: Floats
    sd_px: Floats
    bleed: Bleed | None = None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class SeenRule:
    """A plain rule in one photo: line points, each measured along one direction.

    Attributes
    ----------
    points_mm, signs
        (N, 2), on the rule: x from its zero end, y across from its axis, as seen from above.
    pixels, directions
        (N, 2), where, and the unit vector along which it was measured.
    sd_px
        (N,).
    corners
        Four px, round the rule from its zero end.
    length_mm
        What its graduations say it is, or what was typed.
    ticks
        Number of graduations read (0: none).
    bleed
        By how much its ends and long edges are seen outside its own; None: nothing tells.
    doubts
        What the photo alone could not settle about it, as sentences for the user.
    """

    points_mm: Floats
    signs: Floats
    pixels: Floats
    directions: Floats
    sd_px: Floats
    corners: Floats
    length_mm: float
    width_mm: float
    ticks: int
    was_tapped: bool = False
    doubts: tuple[str, ...] = ()
    bleed: Bleed | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """All that was found in one photo, and its lens."""

    name: str
    lens: LensPrior
    markers: SeenMarkers | None = None
    rules: tuple[SeenRule, ...] = ()
