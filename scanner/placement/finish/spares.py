"""Spares of a matched set: laid next to it where that costs no other part its place.

Those that find no place there may lie further off, where the set stays what was asked for: from
one board or two that are alike, in its order, nothing else between its members.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from scanner.board.board import Board
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.problem import problem_of
from scanner.placement.choosing.search import Campaign
from scanner.placement.choosing.set_plan import are_alike
from scanner.placement.finish.assemble import placements_of
from scanner.placement.laid.kept import taken_stretches
from scanner.placement.layout import SAWN_OUT, Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.stop import Clock, Work
from scanner.placement.validator.sets import set_objections
from scanner.placement.wanted.sets import Manner, MatchedSet, matched_sets, set_of

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
    for one in matched_sets(parts, _quantities(parts)):
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
    pool = Pool.of(problem.types)
    campaign = Campaign(
        problem, pool, frozenset((0,)), Clock(Work(_STEPS)), np.random.default_rng(seed)
    )
    goal = float(problem.types.wanted @ pool.value)
    campaign.advance(_STEPS, goal)
    if campaign.finest_value < goal * (1 - 1e-9):
        return []
    return placements_of(problem, campaign.finest, (*kept, *others))


def on_boards_of_the_set(
    part: Part, parts: Sequence[Part], placed: Sequence[Placement], boards: Sequence[Board]
) -> Part | None:
    """Return a part whose spares are still to be laid, bound to boards its set may lie on.

    A set from one board may take one more that is alike it. None: no board is left.
    """
    rows = _rows_of(part, parts)
    if set_of(part) is None or not matched_sets(rows, _quantities(rows)):
        return part
    names = {row.name for row in rows}
    on = {p.board for p in placed if p.part in names}
    own = [board for board in boards if board.id in on]
    may = own if len(own) > 1 else [b for b in boards if any(are_alike(b, one) for one in own)]
    ids = tuple(b.id for b in may if not part.only_boards or b.id in part.only_boards)
    return replace(part, only_boards=ids) if ids else None


def without_those_that_break_a_set(
    spares: Sequence[Placement],
    placed: Sequence[Placement],
    parts: Sequence[Part],
    boards: Sequence[Board],
    shop: Shop,
) -> list[Placement]:
    """Return ``placed`` and the ``spares`` that leave every matched set what was asked for.

    What is no spare of a set is kept. The copies of a set in order are numbered along the grain
    on each board, so that its spare may come before the others as well as after them.
    """
    rows = [part for part in parts if set_of(part) is not None]
    in_sets = {part.name for part in rows}
    board_of = {board.id: board for board in boards}

    def objections(found: Sequence[Placement], id: str) -> set[str]:
        lying = {p.part for p in found if p.board == id}
        names = {row.match for row in rows if row.name in lying}
        own = tuple(row for row in rows if row.match in names)
        return {one.words for one in set_objections(found, board_of, own, shop.kerf_mm)}

    found = [*placed, *(p for p in spares if p.part not in in_sets)]
    on = {(p.part, p.board) for p in placed}
    waiting = [p for p in spares if p.part in in_sets]
    for p in sorted(waiting, key=lambda p: ((p.part, p.board) not in on, p.board, p.x_mm)):
        more = _numbered_along(rows, (*found, p), p)
        if objections(more, p.board) <= objections(found, p.board):
            found = more
    return found


def _numbered_along(
    rows: Sequence[Part], placed: Sequence[Placement], new: Placement
) -> list[Placement]:
    """Return the placements, copies like the new one numbered along its board if in order."""
    found = next(set_of(part) for part in rows if part.name == new.part)
    like = [p for p in placed if (p.part, p.board) == (new.part, new.board)]
    if (
        found is None
        or found[1] is not Manner.IN_ORDER
        or any(p.locked or p.state in SAWN_OUT for p in like)
    ):
        return list(placed)
    copies = sorted(p.copy for p in like)
    along = sorted(like, key=lambda p: p.x_mm)
    named = {id(p): replace(p, copy=n) for p, n in zip(along, copies, strict=True)}
    return [named.get(id(p), p) for p in placed]


def _rows_of(part: Part, parts: Sequence[Part]) -> list[Part]:
    return [row for row in parts if set_of(row) == set_of(part)]


def _quantities(parts: Iterable[Part]) -> dict[str, int]:
    return {part.name: part.quantity for part in parts}
