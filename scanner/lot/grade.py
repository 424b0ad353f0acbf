"""An estimate of a board's grade by the published NHLA rules. It is no inspection.

The steps are the grader's: surface measure, poor face, trial grade, number of cuttings, units
needed, units found, limits. Both faces are tried, which finds the poor one. What a picture does not
show is not judged (what lies under the surface, whether warp planes out), nor are the rules that
a species has of its own.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from scanner.board.board import Board
from scanner.board.volume import Tally, sawn_width_mm
from scanner.lot.grade_face import GradedFace, graded_face
from scanner.lot.grade_rules import (
    COMMON_1,
    COMMON_2A,
    COMMON_3A,
    FAS,
    ROUNDING_FT,
    SELECTS_BOARD_FT,
    SELECTS_BOARD_IN,
    SELECTS_SMALL,
    FaceRule,
    Grade,
)
from scanner.lot.grade_yield import FaceResult, small_selects, wane_limit_of_one_face, yield_of
from scanner.units import inches_from_mm

NO_INSPECTION = "An estimate from pictures, no inspection: a grader may say otherwise."
# Kiln-dried lumber may be so much scant in width (European summary of the rules).
_SCANT_IN = 0.5


@dataclass(frozen=True, slots=True)
class GradeEstimate:
    """The estimate and what it rests on.

    Attributes
    ----------
    surface_measure
        Whole square feet.
    faces
        Face number to its result under the rule that the grade asks of that face.
    reasons
        Why each better grade was not given, best first.
    is_looked_over
        Whether the user looked over both faces; until then every possible flaw counts.
    """

    grade: Grade
    surface_measure: int
    faces: Mapping[int, FaceResult]
    reasons: tuple[str, ...]
    is_looked_over: bool


@dataclass(slots=True)
class _Grader:
    """A board on the grader's bench; every yield is worked out once."""

    board: Board
    measure: int
    faces: Mapping[int, GradedFace]
    _known: dict[tuple[int, int], FaceResult] = field(default_factory=dict)

    def refuses_size(self, width_in: float, length_ft: float) -> bool:
        narrowest = inches_from_mm(min(s.width.value_mm for s in self.board.widths))
        length = inches_from_mm(self.board.length.value_mm) / 12
        return narrowest + _SCANT_IN < width_in or length < length_ft - ROUNDING_FT

    def yields(self, rule: FaceRule) -> dict[int, FaceResult]:
        found = {}
        for face, seen in self.faces.items():
            key = (id(rule), face)
            if key not in self._known:
                self._known[key] = yield_of(rule, self.board, face, seen, self.measure)
            found[face] = self._known[key]
        return found

    def fas_and_common(self) -> dict[int, FaceResult]:
        """Return the better face held against FAS, the poor one against No. 1 Common."""
        fas, common = self.yields(FAS), self.yields(COMMON_1)
        better = max(fas, key=lambda face: (fas[face].passes, fas[face].found))
        return {face: (fas if face == better else common)[face] for face in fas}


_Tried = tuple[dict[int, FaceResult], str]


def estimate_grade(board: Board, surface_measure: int | None = None) -> GradeEstimate:
    """Return the best grade that the board's outline and flaws allow.

    Parameters
    ----------
    board
        With both faces; struck flaws do not count.
    surface_measure
        From the lot's tally, where an exact half was already rounded; worked out here if None.
    """
    measure = _surface_measure(board) if surface_measure is None else surface_measure
    faces = {face: graded_face(board, face) for face in sorted(board.faces)}
    grader = _Grader(board, measure, faces)
    reasons: list[str] = []
    for grade, trial in _TRIALS.items():
        results, objection = trial(grader)
        if not objection:
            return GradeEstimate(grade, measure, results, tuple(reasons), board.is_looked_over)
        reasons.append(f"{grade}: {objection}")
    return GradeEstimate(Grade.BELOW, measure, {}, tuple(reasons), board.is_looked_over)


def _surface_measure(board: Board) -> int:
    width = sawn_width_mm(station.width.value_mm for station in board.widths)
    return Tally().surface_measure(inches_from_mm(width), inches_from_mm(board.length.value_mm))


def _too_small(width_in: float, length_ft: float) -> str:
    return f"smaller than {width_in:g} in × {length_ft:g} ft"


def _objection(results: dict[int, FaceResult]) -> str:
    """Return what the poorest face lacks, "" where all pass."""
    failing = {face: r for face, r in results.items() if not r.passes}
    if not failing:
        return ""
    face = min(failing, key=lambda f: failing[f].found - (failing[f].needed or 0.0))
    return f"face {face}: {failing[face].objection}"


def _by_rule(rule: FaceRule) -> Callable[[_Grader], _Tried]:
    def trial(grader: _Grader) -> _Tried:
        if grader.refuses_size(rule.board_in, rule.board_ft):
            return {}, _too_small(rule.board_in, rule.board_ft)
        results = grader.yields(rule)
        return results, _objection(results)

    return trial


def _one_face(grader: _Grader) -> _Tried:
    if grader.refuses_size(FAS.board_in, FAS.board_ft):
        return {}, _too_small(FAS.board_in, FAS.board_ft)
    results = grader.fas_and_common()
    better = max(results, key=lambda face: results[face].needed or 0.0)
    for face in results:
        if face != better:
            wane = wane_limit_of_one_face(grader.board, face)
            results[face] = replace(results[face], limit=results[face].limit or wane)
    return results, _objection(results)


def _selects(grader: _Grader) -> _Tried:
    if grader.refuses_size(SELECTS_BOARD_IN, SELECTS_BOARD_FT):
        return {}, _too_small(SELECTS_BOARD_IN, SELECTS_BOARD_FT)
    if SELECTS_SMALL[0] <= grader.measure <= SELECTS_SMALL[1]:
        single = {face: small_selects(seen, grader.measure) for face, seen in grader.faces.items()}
        better = max(single, key=lambda face: single[face].found)
        results = {**grader.yields(COMMON_1), better: single[better]}
    else:
        results = grader.fas_and_common()
    return results, _objection(results)


_TRIALS: Mapping[Grade, Callable[[_Grader], _Tried]] = {
    Grade.FAS: _by_rule(FAS),
    Grade.F1F: _one_face,
    Grade.SELECTS: _selects,
    Grade.COMMON_1: _by_rule(COMMON_1),
    Grade.COMMON_2A: _by_rule(COMMON_2A),
    Grade.COMMON_3A: _by_rule(COMMON_3A),
}
