"""Spares of a matched set: laid next to it where that costs no other part its place."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from scanner.board.board import Board
from scanner.placement.assemble import placements_of
from scanner.placement.kept import taken_stretches
from scanner.placement.layout import Placement
from scanner.placement.master import Pool
from scanner.placement.parts import Part
from scanner.placement.problem import problem_of
from scanner.placement.search import Campaign, Clock
from scanner.placement.sets import MatchedSet, matched_sets
from scanner.placement.shop import Shop
from scanner.placement.stop import Work

# A board laid out anew with the spares, this many tries.
_STEPS = 24


def with_spares_beside(
    boards: Sequence[Board],
    parts: Sequence[Part],
    placed: Sequence[Placement],
    kept: Sequence[Placement],
    shop: Shop,
    seed: int,
) -> list[Placement]:
    """Return the placements, the spares of each set beside it where all else still fits.

    ``placed`` holds what the search placed, ``kept`` what is fixed. A board is laid out anew only
    where the set lies whole on it and nothing of the set is fixed.
    """
    found = list(placed)
    fixed = {p.part for p in kept}
    for one in matched_sets(parts, {part.name: part.quantity for part in parts}):
        names = {member.name for member in one.members}
        on = {p.board for p in found if p.part in names}
        if len(on) != 1 or names & fixed or not any(m.spares for m in one.members):
            continue
        board = next(board for board in boards if board.id in on)
        again = _laid_anew(board, parts, one, found, kept, shop, seed)
        if again:
            found = [p for p in found if p.board != board.id] + again
    return found


def _laid_anew(
    board: Board,
    parts: Sequence[Part],
    one: MatchedSet,
    placed: Sequence[Placement],
    kept: Sequence[Placement],
    shop: Shop,
    seed: int,
) -> list[Placement]:
    """Return the board with the spares of one set beside it, or nothing."""
    have = Counter(p.part for p in placed if p.board == board.id)
    own_parts = [part for part in parts if have[part.name]]
    set_names = {member.name for member in one.members}
    wanted = {p.name: have[p.name] + (p.spares if p.name in set_names else 0) for p in own_parts}
    sets = matched_sets(own_parts, wanted)
    in_sets = {member.name for each in sets for member in each.members}
    if not set_names <= in_sets:
        return []
    singles = [part for part in own_parts if part.name not in in_sets]
    others = [p for p in placed if p.board != board.id]
    taken = taken_stretches(tuple(p for p in kept if p.board == board.id), shop)
    copies = [wanted[part.name] for part in singles]
    problem = problem_of((board,), singles, copies, shop, taken, sets)
    pool = Pool(np.maximum(problem.types.value, 1e-6), problem.types.wanted)
    campaign = Campaign(
        problem, pool, frozenset((0,)), Clock(Work(_STEPS)), np.random.default_rng(seed)
    )
    goal = float(problem.types.wanted @ pool.value)
    campaign.advance(_STEPS, goal)
    if campaign.finest_value < goal * (1 - 1e-9):
        return []
    return placements_of(problem, campaign.finest, (*kept, *others))
