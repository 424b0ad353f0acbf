"""One face held against one grade's rule: units found, units needed, limits."""

from dataclasses import dataclass, replace

from shapely.geometry import box
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.board.flaw import FlawKind
from scanner.lot.cuttings import CuttingPlan, Rectangle, best_cuttings
from scanner.lot.grade_face import GradedFace
from scanner.lot.grade_rules import (
    COMMON_1,
    FAS,
    FULL_WIDTH_FACTOR,
    FULL_WIDTH_MEASURES,
    SELECTS_SMALL_FACTOR,
    FaceRule,
)
from scanner.units import inches_from_mm

# "Any number of cuttings" is tried up to here; more small ones would only add to the yield.
_ANY_NUMBER = 9
_ENOUGH = 1e-3
# What is just as long as a limit allows is within it: millimetres seldom make whole inches again.
_ROUNDING_IN = 1e-6


@dataclass(frozen=True, slots=True)
class FaceResult:
    """What one face yielded under one rule.

    Attributes
    ----------
    needed, found
        Cutting units; ``needed`` is None where the rule knows no board so small.
    plan
        The cuttings that were found.
    limit
        What goes beyond a limit of the grade, "" where nothing does.
    """

    needed: float | None
    found: float
    plan: CuttingPlan
    limit: str = ""

    @property
    def is_enough(self) -> bool:
        """Whether the units suffice."""
        return self.needed is not None and self.found >= self.needed - _ENOUGH

    @property
    def passes(self) -> bool:
        """Whether the units suffice and no limit is passed."""
        return self.is_enough and not self.limit

    @property
    def text(self) -> str:
        """The units in words: ``36.6 cutting units in 3 cuttings, 32.0 needed``."""
        count = len(self.plan.cuttings)
        cuttings = f"{count} cutting{'' if count == 1 else 's'}"
        return f"{self.found:.1f} cutting units in {cuttings}, {self.needed or 0:.1f} needed"

    @property
    def objection(self) -> str:
        """In words, why the face does not pass; "" where it does."""
        if self.needed is None:
            return "the surface measure is too small"
        if not self.is_enough:
            return f"{self.found:.1f} of {self.needed:.1f} cutting units"
        return self.limit


def yield_of(rule: FaceRule, board: Board, face: int, seen: GradedFace, measure: int) -> FaceResult:
    """Return the best of the ways in which a face may pass a rule, its limits judged."""
    size = (seen.length_ft, seen.width_in)
    results = []
    for count, needed in rule.trials(measure, inches_from_mm(board.length.value_mm) / 12):
        plan = best_cuttings(size, seen.bad, rule.cuttings, count or _ANY_NUMBER)
        results.append(FaceResult(needed, plan.units, plan))
    if rule is FAS and FULL_WIDTH_MEASURES[0] <= measure <= FULL_WIDTH_MEASURES[1]:
        plan = _full_width(seen)
        results.append(FaceResult(measure * FULL_WIDTH_FACTOR, plan.units, plan))
    if not results:
        return FaceResult(None, 0.0, CuttingPlan(0.0, ()))
    best = max(results, key=lambda r: (r.is_enough, r.found - (r.needed or 0.0)))
    if rule is FAS:
        return replace(best, limit=_fas_limit(board, face, seen, measure))
    if rule is COMMON_1:
        return replace(best, limit=_common_limit(board, face))
    return best


def small_selects(seen: GradedFace, measure: int) -> FaceResult:
    """Return what the better face of a Selects board of surface measure 2 or 3 yields."""
    plan = best_cuttings((seen.length_ft, seen.width_in), seen.bad, ((0.0, 0.0),), 1)
    return FaceResult(float(measure * SELECTS_SMALL_FACTOR), plan.units, plan)


def wane_limit_of_one_face(board: Board, face: int) -> str:
    """Return what is too much wane on the No. 1 Common side of FAS One Face (2019, par. 64)."""
    mean = sum(station.width.value_mm for station in board.widths) / len(board.widths)
    wanes = [f.outlines[face] for f in board.flaws_on(face) if f.counts and f.kind is FlawKind.WANE]
    across = sum(shape.bounds[3] - shape.bounds[1] for shape in wanes)
    along = max((shape.bounds[2] - shape.bounds[0] for shape in wanes), default=0.0)
    return "wane" if across > mean / 3 or along > board.length.value_mm / 2 else ""


def _full_width(seen: GradedFace) -> CuttingPlan:
    """Return the two longest clear stretches over the full width, of any length (97 % rule)."""
    reached = 0.0
    spans = []
    for spot in sorted(seen.bad, key=lambda r: r.x0_ft):
        if spot.x0_ft > reached:
            spans.append((reached, spot.x0_ft))
        reached = max(reached, spot.x1_ft)
    if reached < seen.length_ft:
        spans.append((reached, seen.length_ft))
    longest = sorted(spans, key=lambda span: span[0] - span[1])[:2]
    cuttings = tuple(Rectangle(a, 0.0, b, seen.width_in) for a, b in longest)
    return CuttingPlan(sum(c.units for c in cuttings), cuttings)


def _fas_limit(board: Board, face: int, seen: GradedFace, measure: int) -> str:
    """Return what goes beyond the limits of FAS (a distributor's chart; 2019, pars. 57, 59)."""
    length = inches_from_mm(board.length.value_mm)
    over = {
        "pith": _length_in(board, face, FlawKind.PITH) > measure,
        "wane": _length_in(board, face, FlawKind.WANE) > length / 2,
        "splits": _length_in(board, face, FlawKind.SPLIT) > max(2 * measure, 12),
        "a knot or hole": _widest_in(board, face) > measure / 3,
        "a first foot less than half clear": min(_clear_share(seen, end) for end in (0, 1)) < 0.5,
    }
    return ", ".join(name for name, is_over in over.items() if is_over)


def _common_limit(board: Board, face: int) -> str:
    """Return what goes beyond the limit of No. 1 Common (2019, par. 72)."""
    half = inches_from_mm(board.length.value_mm) / 2
    return "pith" if _length_in(board, face, FlawKind.PITH) > half else ""


def _length_in(board: Board, face: int, kind: FlawKind) -> float:
    """Return how long all flaws of a kind are together along the board, in inches, a hair less."""
    found = sum(
        inches_from_mm(flaw.outlines[face].bounds[2] - flaw.outlines[face].bounds[0])
        for flaw in board.flaws_on(face)
        if flaw.counts and flaw.kind is kind
    )
    return found - _ROUNDING_IN


def _widest_in(board: Board, face: int) -> float:
    """Return the greatest mean diameter of a knot or hole on a face, in inches."""
    sizes = [
        (b[2] - b[0] + b[3] - b[1]) / 2
        for flaw in board.flaws_on(face)
        if flaw.counts and flaw.kind in (FlawKind.KNOT, FlawKind.HOLE)
        for b in [flaw.outlines[face].bounds]
    ]
    return inches_from_mm(max(sizes, default=0.0))


def _clear_share(seen: GradedFace, end: int) -> float:
    """Return how much of the first foot from an end (0 = A, 1 = B) is clear, 0 to 1."""
    start = 0.0 if end == 0 else seen.length_ft - 1
    foot = box(start, 0, start + 1, seen.width_in)
    bad = unary_union([box(r.x0_ft, r.y0_in, r.x1_ft, r.y1_in) for r in seen.bad])
    return 1 - float(foot.intersection(bad).area / foot.area)
