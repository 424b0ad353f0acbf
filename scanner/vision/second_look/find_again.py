"""A planed or trimmed piece found again on its board: outline first, then knots and grain.

A piece is known again only where the layout's cuts are known and one of its pieces fits clearly
better than any other, and not by one spot alone; else the person is asked. Grain runs on alike
along a board, and what the planer takes off lets the tips of its arches wander by some
centimetres: without the cuts board and face are mostly right, but the place along is not sure.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely.geometry import box

from scanner.board.board import Board
from scanner.vision.second_look.grain_print import GrainPrint
from scanner.vision.second_look.match import PEAK_U_MM, Place, look_closely, rough_places

# What may have been trimmed off a piece's ends and edges, both together.
MOST_TRIMMED_MM = 25.0
# Saws, outlines and U of both.
_SIZE_SLACK_MM = 4.0
# The best place must fit so much better than the next; tests/bench/pieces.py, development seeds.
_SURE_GAP = 1.4
# Pieces of boards that are not in the lot fit nowhere better than this (as above).
_LEAST_SCORE = 0.09
# Laid so that its knot meets another board's, a piece fits worse than this away from the knot, 99
# times of 100 (tests/bench/piece_knots.py, development seeds).
_LEAST_ELSEWHERE = 0.065
_CLOSE_LOOKS = 9
_NEAR_MM = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class FacePrint:
    """The grain print of one face, as stored: face 2 as seen through the board.

    ``origin_mm`` is the board mm of the print's first pixel.
    """

    board: Board
    face: int
    grain: GrainPrint
    origin_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlannedPiece:
    """A piece that the layout's crosscuts leave: board, and x from and to, mm."""

    board: str
    name: str
    x0_mm: float
    x1_mm: float


@dataclass(frozen=True, slots=True)
class PiecePlace:
    """Where a piece may have lain: board frame, its corner of smallest x and y, and size.

    ``is_turned``: as photographed its end of larger x lay at the left. ``along_u_mm``: U of
    ``x_mm``; large where the grain does not tell where along the piece lay.
    """

    board: str
    face: int
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    is_turned: bool
    score: float
    piece: str = ""
    along_u_mm: float = PEAK_U_MM

    @property
    def blur_mm(self) -> float:
        """How much less sure the place along is than where the grain tells it."""
        return max(self.along_u_mm - PEAK_U_MM, 0.0)

    def is_far_from(self, other: "PiecePlace") -> bool:
        """Whether two places are different answers and not one answer twice."""
        same = (self.board, self.face, self.is_turned) == (
            other.board,
            other.face,
            other.is_turned,
        )
        return not same or abs(self.x_mm - other.x_mm) > _NEAR_MM


# A place, and how well it fits away from the spot where it fits best.
_Fit = tuple[PiecePlace, float]


@dataclass(frozen=True, slots=True)
class FoundAgain:
    """The places that fit, best first, at least ``_NEAR_MM`` apart, and whether the first is sure.

    ``gap``: how many times better the first fits than the second. ``elsewhere``: how well the first
    fits away from the spot where it fits best.
    """

    places: tuple[PiecePlace, ...]
    gap: float
    is_sure: bool
    elsewhere: float = 0.0


def find_again(
    piece: GrainPrint,
    size_mm: tuple[float, float],
    faces: Sequence[FacePrint],
    cuts: Sequence[PlannedPiece] = (),
) -> FoundAgain:
    """Return where a piece lay.

    Parameters
    ----------
    piece
        Grain print of the piece's face as a person sees it, its grain along x.
    size_mm
        Its length and width.
    faces
        Both faces of every board it may come from.
    cuts
        The pieces that were to be cut; where given, only they are looked at.
    """
    found: list[_Fit] = []
    rough: list[tuple[FacePrint, Place]] = []
    for face in faces:
        if not _may_hold(face.board, face.face, size_mm):
            continue
        laid = piece if face.face == 1 else piece.mirrored()
        if cuts:
            found += _on_cuts(laid, size_mm, face, cuts)
        else:
            rough += [(face, place) for place in rough_places(laid, face.grain)]
    rough.sort(key=lambda one: -one[1].score)
    for face, place in rough[:_CLOSE_LOOKS]:
        laid = piece if face.face == 1 else piece.mirrored()
        close = look_closely(laid, face.grain, place)
        found.append((_placed(face, close, size_mm), close.elsewhere))
    return _judged(found, knows_cuts=bool(cuts))


def is_sure(gap: float, score: float, elsewhere: float, *, knows_cuts: bool) -> bool:
    """Whether a best place is said without asking: only among the pieces that were to be cut.

    One knot fits any other, wherever the slack of sawing and trimming lets the two meet: away from
    the spot that fits best (``elsewhere``) the grain must fit better than by chance too.
    """
    fits = gap >= _SURE_GAP and score >= _LEAST_SCORE
    return knows_cuts and fits and elsewhere >= _LEAST_ELSEWHERE


def _judged(found: Iterable[_Fit], *, knows_cuts: bool) -> FoundAgain:
    ranked = sorted(found, key=lambda fit: -fit[0].score)
    apart: list[_Fit] = []
    for fit in ranked:
        if all(fit[0].is_far_from(other) for other, _ in apart):
            apart.append(fit)
    if not apart or apart[0][0].score <= 0:
        return FoundAgain((), 0.0, is_sure=False)
    best, elsewhere = apart[0]
    second = apart[1][0].score if len(apart) > 1 else 0.0
    # Where nothing else fits at all the grain itself must speak.
    gap = best.score / max(second, _LEAST_SCORE / 2)
    sure = is_sure(gap, best.score, elsewhere, knows_cuts=knows_cuts)
    return FoundAgain(tuple(place for place, _ in apart), gap, sure, elsewhere)


def _may_hold(board: Board, face: int, size_mm: tuple[float, float]) -> bool:
    """Whether a piece of this size can come out of a face at all."""
    x0, y0, x1, y1 = board.wood(face).bounds
    long, wide = x1 - x0 + _SIZE_SLACK_MM, y1 - y0 + _SIZE_SLACK_MM
    return bool(size_mm[0] <= long and size_mm[1] <= wide)


def _on_cuts(
    laid: GrainPrint,
    size_mm: tuple[float, float],
    face: FacePrint,
    cuts: Sequence[PlannedPiece],
) -> list[_Fit]:
    """Return how the piece fits on each planned piece of a face that it may be by its length."""
    found = []
    for cut in cuts:
        slack = (cut.x1_mm - cut.x0_mm) - size_mm[0]
        if cut.board != face.board.id or not -_SIZE_SLACK_MM <= slack <= (
            MOST_TRIMMED_MM + _SIZE_SLACK_MM
        ):
            continue
        _, low, _, high = _there(face.board, face.face, cut)
        room = max(high - low - size_mm[1], 0.0)
        middle = (
            (cut.x0_mm + cut.x1_mm - size_mm[0]) / 2 - face.origin_mm[0],
            (low + high - size_mm[1]) / 2 - face.origin_mm[1],
        )
        for is_turned in (False, True):
            start = Place(middle[0], middle[1], is_turned, 0.0, 0.0)
            place = look_closely(
                laid,
                face.grain,
                start,
                reach_mm=max(slack, 0.0) / 2 + _SIZE_SLACK_MM,
                across_mm=room / 2 + 8.0,
            )
            found.append((_placed(face, place, size_mm, cut.name), place.elsewhere))
    return found


def _there(board: Board, face: int, cut: PlannedPiece) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = board.wood(face).bounds
    stretch = board.wood(face).intersection(box(cut.x0_mm, y0 - 1, cut.x1_mm, y1 + 1))
    return stretch.bounds if not stretch.is_empty else (x0, y0, x1, y1)


def _placed(
    face: FacePrint, place: Place, size_mm: tuple[float, float], name: str = ""
) -> PiecePlace:
    return PiecePlace(
        board=face.board.id,
        face=face.face,
        x_mm=place.x_mm + face.origin_mm[0],
        y_mm=place.y_mm + face.origin_mm[1],
        length_mm=size_mm[0],
        width_mm=size_mm[1],
        # Seen through the board left and right stay, so the turn is the same on both faces.
        is_turned=place.is_turned,
        score=place.score,
        piece=name,
        along_u_mm=place.along_u_mm,
    )
