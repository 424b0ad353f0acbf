"""Judges one part set down by hand beside what must stay: wood, neighbours, saw."""

from collections.abc import Iterator, Sequence

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.validator.cuts import stage_objections
from scanner.placement.validator.ground import ground_objections, thickness_objections
from scanner.placement.validator.limits import SLACK_MM
from scanner.placement.validator.objection import Objection, Rule
from scanner.placement.validator.turn import upright


def dropped_objections(
    p: Placement, staying: Sequence[Placement], part: Part, board: Board, shop: Shop
) -> Iterator[Objection]:
    """Say what is wrong with a part that was set down.

    ``staying`` holds the parts of the same board that keep their places, without this one.
    """
    yield from ground_objections(p, part, board, shop)
    # It may have been thick enough when it was set down: edges and pieces are measured later.
    yield from thickness_objections(p, part, board, p, shop)
    # Saws free the upright rectangle round a turned part.
    blank = upright(p)
    others = [upright(other) for other in staying]
    for other in others:
        along = max(
            other.x_mm - blank.x_mm - blank.length_mm, blank.x_mm - other.x_mm - other.length_mm
        )
        across = max(
            other.y_mm - blank.y_mm - blank.width_mm, blank.y_mm - other.y_mm - other.width_mm
        )
        if max(along, across) < shop.kerf_mm - SLACK_MM:
            words = f"overlaps {other.part} {other.copy} or leaves less than a kerf to it"
            yield Objection.to(p, Rule.KERF, words, other)
    if shop.cut_class == "any":
        return
    exact = shop.cut_class == "three_stage"
    if list(stage_objections(board.id, (*others, blank), shop, exact)):
        words = "cannot be sawn free by crosscut, rip, crosscut beside what stays there"
        yield Objection.to(p, Rule.CUT, words)
