"""The layout that the proof of the bound makes of what boards may hold, where it is the better."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from scanner.board.board import Board
from scanner.placement.choosing.calm_ends import with_calm_ends
from scanner.placement.choosing.problem import problem_of
from scanner.placement.finish.assemble import placements_of
from scanner.placement.finish.last_fill import with_last_fill
from scanner.placement.giving.give import Score
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.proof.laying import Laying
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS, value_mm2


def laying_of(
    boards: tuple[Board, ...], parts: PartsList, placed: Sequence[Placement], shop: Shop, seed: int
) -> Laying | None:
    """Return what lays out the proof's patterns; None where a part is not laid out by itself.

    placed: the layout so far; where it lacks a copy value is sought, else less wood.
    """
    if not can_be_laid(parts):
        return None
    have = Counter(p.part for p in placed)
    wanted = [part.quantity for part in parts]
    problem = problem_of(boards, parts, wanted, shop, row_heights=FINE_ROW_HEIGHTS)
    is_short = any(have[part.name] < part.quantity for part in parts)
    return Laying(problem, np.random.default_rng(seed), is_value_sought=is_short)


def can_be_laid(parts: PartsList) -> bool:
    """Whether each of these parts is laid out by itself."""
    return all(map(_is_alone, parts))


def _is_alone(part: Part) -> bool:
    is_whole = part.outline_mm is None and part.straight_grain != "follow"
    return is_whole and not (part.match or part.filler or part.spares)


def laid_out(
    laying: Laying, boards: tuple[Board, ...], parts: PartsList, shop: Shop
) -> tuple[Placement, ...]:
    """Return the best layout that was made, with what else finds room."""
    choice = with_calm_ends(laying.problem, laying.best, {})
    placed = placements_of(laying.problem, choice, ())
    return tuple(with_last_fill(boards, parts, placed, (), None, shop))


def worth_of(layout: Layout, parts: PartsList) -> Score:
    """Return the value of a layout, and the wood that it leaves."""
    value = {part.name: value_mm2(part) for part in parts}
    placed = sum(value[p.part] for p in layout.placements)
    return placed, -layout.summary.area_opened_mm2
