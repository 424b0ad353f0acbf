"""The validator's own view of nested parts: curves a kerf and their allowances apart, one blank."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from shapely.geometry import MultiPolygon

from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.validator.limits import SLACK_MM
from scanner.placement.validator.objection import Objection, Rule, copies_of
from scanner.placement.validator.turn import drawn_of, shape_of, upright


def nest_objections(
    placements: Sequence[Placement], part_of: Mapping[str, Part], kerf: float
) -> Iterator[Objection]:
    """Say what is wrong with nested and half-turned parts among the live placements."""
    for p in placements:
        if part_of[p.part].outline_mm is None and (p.nest is not None or p.half_turn):
            words = f"{p.board}: {p.part} {p.copy} is nested or turned end for end, but not curved"
            yield Objection(Rule.NEST, words, p.board, copies_of(p))
    for (board, number), nest in _nests(placements).items():
        curved = [p for p in nest if part_of[p.part].outline_mm is not None]
        for p, q in combinations(curved, 2):
            apart = drawn_of(p, part_of[p.part]).distance(drawn_of(q, part_of[q.part]))
            wanted = kerf + _allowance_mm(p, part_of[p.part]) + _allowance_mm(q, part_of[q.part])
            if apart < wanted - SLACK_MM:
                words = (
                    f"{board}: {p.part} {p.copy} and {q.part} {q.copy} of nest {number} are "
                    f"{apart:.1f} mm apart, {wanted:.1f} are needed"
                )
                yield Objection(Rule.NEST, words, board, copies_of(p, q))


def _allowance_mm(p: Placement, part: Part) -> float:
    """Return what the shape is sawn larger all round."""
    return max(0.0, min(p.length_mm - part.length_mm, p.width_mm - part.width_mm) / 2)


def _nests(placements: Iterable[Placement]) -> dict[tuple[str, int], list[Placement]]:
    nests: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    for p in placements:
        if p.nest is not None and p.state != "spoiled":
            nests[p.board, p.nest].append(p)
    return nests


def nests_as_one(placements: Sequence[Placement]) -> list[Placement]:
    """Return upright rectangles that the saws free: one for all parts of a nest."""
    found = [upright(p) for p in placements if p.nest is None]
    for nest in _nests(placements).values():
        found.append(_round(nest))
    return found


def blank_round(p: Placement, placements: Sequence[Placement]) -> Placement:
    """Return the rectangle that is milled for a part: its own, or its whole nest's."""
    nest = _nests(placements).get((p.board, p.nest), []) if p.nest is not None else []
    return _round(nest) if nest else upright(p)


def _round(nest: Sequence[Placement]) -> Placement:
    x0, y0, x1, y1 = MultiPolygon([shape_of(p) for p in nest]).bounds
    return replace(nest[0], x_mm=x0, y_mm=y0, length_mm=x1 - x0, width_mm=y1 - y0)
