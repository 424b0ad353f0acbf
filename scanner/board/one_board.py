"""What two faces that lie over each other tell of whether they are of one board, and how loudly.

Each witness is weighed as a log of odds: how often faces of one board look so, against faces of two
boards of one size. Length, width and outline have been compared before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString

from scanner.board.partners import is_spot, is_sure_knot, knots_unlike, partners
from scanner.errors import BoardError

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.board.reading import FaceReading

# Above this (4 to 1) the faces are taken for one board without a word; below the other, with knots
# among the witnesses, they are refused. Between them the user is asked.
_ENOUGH, _TOO_LITTLE = 1.5, -5.0
# So many sure knots on each face of which none comes through tell of two boards.
_UNLIKE_REFUSED = 4
# A sure knot is seen on the other face too in about two of three cases (rendered boards of
# development seeds; real ones: common practice, no source).
_COMES_THROUGH = 0.67
_LOUDEST_KNOT = 3.0
# An end is one saw cut, so it slants alike on both faces. Traced slants of one end differ by 0.3
# degrees (sd, 20 rendered faces); of ends that no saw cut true, some by far more.
_SLANT_SD_DEG, _ROUGH_SHARE, _ROUGH_SD_DEG = 0.35, 0.1, 2.0
# Ends over all boards: half are trimmed square, and then tell nothing (common practice, no source).
_SQUARE_SD_DEG, _SLANTING_SD_DEG = 0.3, 1.5
# Ends alone never refuse.
_LOUDEST_ENDS = 4.0
_TOLD_SLANT_DEG = 1.2
# Knots that slant much, or that one face hides, are no proof: a card beside each face is a person's
# word against them.
_MEND = (
    "give the two faces of one board; where they are, lay its board card beside each and photograph"
    " it anew"
)
# Face 1 lies with end A at the left (`geometry.frames`).
END_NAMES = {"left": "A", "right": "B"}
# What slants more is broken, or was traced wrongly: it tells nothing.
_STEEPEST_DEG = 6.0


@dataclass(frozen=True, slots=True)
class Testimony:
    """What the faces tell.

    Attributes
    ----------
    log_odds
        Natural log of the odds for one board; 0 where nothing tells.
    through, alone
        Sure knots with a partner on the other face, and without.
    slants_deg
        For the end at smaller x and the other: how it slants on face 1 and on face 2, degrees;
        None where that is not seen or no saw cut.
    """

    log_odds: float
    through: int
    alone: int
    slants_deg: tuple[tuple[float, float] | None, ...]

    @property
    def is_against(self) -> bool:
        """Whether the faces cannot well be of one board: knots must be among those that say so."""
        return self.log_odds <= _TOO_LITTLE and self.alone > 1 and not self.through

    @property
    def is_enough(self) -> bool:
        """Whether something tells that they are of one board, and no two knots deny it."""
        return self.log_odds >= _ENOUGH and (self.through > 0 or self.alone < 2)

    def reasons(self) -> tuple[str, ...]:
        """Return in words what speaks against one board."""
        said = []
        if self.alone and not self.through:
            knots = "a knot does" if self.alone == 1 else f"{self.alone} knots do"
            said.append(f"{knots} not come through to the other face")
        for name, (one, two) in told_slants(self).items():
            said.append(
                f"end {END_NAMES[name]} slants by {one:.1f} degrees on face 1"
                f" and {two:.1f} on face 2"
            )
        return tuple(said)


def told_slants(told: Testimony) -> dict[str, tuple[float, float]]:
    """Return how an end slants on both faces, where that tells of two boards: left or right."""
    return {
        name: pair
        for name, pair in zip(("left", "right"), told.slants_deg, strict=True)
        if pair is not None and abs(pair[0] - pair[1]) > _TOLD_SLANT_DEG
    }


def one_board_doubts(
    first: FaceReading,
    seen: FaceReading,
    thickness_mm: float,
    names: tuple[str, str],
    *,
    has_cards: bool,
) -> tuple[str, ...]:
    """Return what to ask where faces that lie over each other may be of two boards.

    Parameters
    ----------
    first, seen, thickness_mm
        As `hear` takes them.
    names
        Photo names for messages.
    has_cards
        Whether cards beside both faces say that they are of one board: then nothing is asked
        where nothing speaks against it, and what does is no refusal by itself.

    Raises
    ------
    BoardError
        The faces cannot well be of one board.
    """
    unlike = knots_unlike(first.flaws, seen.flaws, thickness_mm)
    if unlike >= _UNLIKE_REFUSED and not has_cards:
        raise BoardError(
            f"{names[0]} and {names[1]} seem to show two different boards"
            f" (of {unlike} or more knots on each face, none comes through to the other)",
            _MEND,
        )
    told = hear(first, seen, thickness_mm)
    reasons = "; ".join(told.reasons())
    if told.is_against and not has_cards:
        raise BoardError(
            f"{names[0]} and {names[1]} seem to show two different boards ({reasons})",
            _MEND,
        )
    if told.is_enough or (has_cards and not reasons):
        return ()
    if reasons:
        return (f"{reasons[0].upper()}{reasons[1:]}: look whether both photos show one board",)
    if told.through:
        come = "1 knot comes" if told.through == 1 else f"{told.through} knots come"
        beside = f" beside {told.alone} that {'does' if told.alone == 1 else 'do'} not"
        return (
            f"{come} through to the other face{beside if told.alone else ''}, as may happen by"
            " chance on faces of two boards: look whether both photos show one",
        )
    return (
        "Nothing on these faces tells that they are of one board (no knot comes through, no end"
        " slants much): look yourself whether both photos show it",
    )


def hear(first: FaceReading, seen: FaceReading, thickness_mm: float) -> Testimony:
    """Return what tells whether two faces are of one board.

    Parameters
    ----------
    first, seen
        Face 1, and face 2 as seen through the board, laid on it; mm.
    thickness_mm
        Of the board.
    """
    through, alone, knots = _of_knots(first, seen, thickness_mm)
    slants = tuple(_slants(first.outline, seen.outline, far=far) for far in (False, True))
    ends = sum(_of_end(*pair) for pair in slants if pair is not None)
    return Testimony(knots + max(ends, -_LOUDEST_ENDS), through, alone, slants)


def _of_knots(first: FaceReading, seen: FaceReading, thickness_mm: float) -> tuple[int, int, float]:
    """Return sure knots with a partner, those without, and the log of the odds that they tell."""
    spots = [tuple(f for f in face.flaws if is_spot(f)) for face in (first, seen)]
    sure = [{i for i, flaw in enumerate(flaws) if is_sure_knot(flaw)} for flaws in spots]
    pairs = partners(spots[0], spots[1], thickness_mm)
    together = [(i, j) for i, j in pairs if i in sure[0] or j in sure[1]]
    alone = len(sure[0] - {i for i, _ in pairs}) + len(sure[1] - {j for _, j in pairs})
    # By chance: some spot of the other face within reach, turned over in either of two ways.
    reach = 2.0 * thickness_mm + 10.0
    chance = 2.0 * max(map(len, spots), default=0) * reach**2 / max(first.outline.area, 1.0)
    loud = min(_LOUDEST_KNOT, math.log(_COMES_THROUGH / min(max(chance, 1e-3), _COMES_THROUGH)))
    return len(together), alone, len(together) * loud + alone * math.log(1.0 - _COMES_THROUGH)


def _of_end(one_deg: float, two_deg: float) -> float:
    """Return the log of the odds for one saw cut by how an end slants on both faces."""
    own = (1 - _ROUGH_SHARE) * _bell(one_deg - two_deg, _SLANT_SD_DEG)
    own += _ROUGH_SHARE * _bell(one_deg - two_deg, _ROUGH_SD_DEG)
    any_end = 0.5 * _bell(two_deg, math.hypot(_SQUARE_SD_DEG, _SLANT_SD_DEG))
    any_end += 0.5 * _bell(two_deg, _SLANTING_SD_DEG)
    return math.log(own / any_end)


def _bell(off: float, sd: float) -> float:
    return math.exp(-0.5 * (off / sd) ** 2) / sd


def _slants(one: Polygon, two: Polygon, *, far: bool) -> tuple[float, float] | None:
    a, b = _slant_deg(one, far=far), _slant_deg(two, far=far)
    if a is None or b is None or max(abs(a), abs(b)) > _STEEPEST_DEG:
        return None
    return a, b


def _slant_deg(outline: Polygon, *, far: bool) -> float | None:
    """Return how an end is out of square, degrees, corners left out; None where it is not seen."""
    low_x, low, high_x, high = outline.bounds
    points = []
    for y in np.linspace(low + 0.2 * (high - low), high - 0.2 * (high - low), 15):
        cut = outline.intersection(LineString([(low_x - 1, y), (high_x + 1, y)]))
        if not cut.is_empty:
            points.append((float(y), float(cut.bounds[2 if far else 0])))
    if len(points) < 5:
        return None
    y, x = np.array(points).T
    return math.degrees(math.atan(float(np.polyfit(y, x, 1)[0])))
