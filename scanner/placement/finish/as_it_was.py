"""A former layout as a whole: what of it the judge still allows, and whether the new one is better.

The search lays parts on rows and keeps off stretches of which something is cut; a layout made by
hand, at other settings or in exact places may hold more than it finds there again.
"""

from collections.abc import Sequence

from scanner.board.board import Board
from scanner.placement.finish.assemble import assemble
from scanner.placement.finish.gaps import with_the_rest
from scanner.placement.finish.last_fill import with_last_fill
from scanner.placement.giving.sizes import fixed_sizes, givings_of, sized
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.placement.stop import Clock
from scanner.placement.validator.judge import validate_layout
from scanner.placement.validator.objection import Rule
from scanner.placement.wanted.items import value_mm2
from scanner.placement.wanted.staves import copies_placed, is_glued

# What a layout says of itself is said anew.
_SAID = frozenset((Rule.UNPLACED, Rule.OFFCUT, Rule.SUMMARY, Rule.BOUND, Rule.LOOKED_OVER))


def still_allowed(
    former: Layout | None,
    kept: tuple[Placement, ...],
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
) -> tuple[Placement, ...]:
    """Return what a former layout only planned and the judge allows beside what is ``kept``."""
    if former is None:
        return ()
    ids = {board.id for board in boards}
    on_hand = [p for p in former.placements if p.state == "planned" and not p.locked]
    rest = _within_asked([p for p in on_hand if p.board in ids], kept, parts)
    while rest:
        layout = assemble(boards, parts, shop, (*kept, *rest), former.seed, 0, is_final=False)
        gone = set[int]()
        for objection in validate_layout(layout, boards, parts, shop):
            concerned = [n for n, p in enumerate(rest) if objection.concerns(p)]
            if concerned and objection.rule not in _SAID and not gone & set(concerned):
                gone.add(concerned[-1])
        if not gone:
            break
        rest = [p for n, p in enumerate(rest) if n not in gone]
    return tuple(rest)


def _within_asked(
    planned: Sequence[Placement], kept: Sequence[Placement], parts: PartsList
) -> list[Placement]:
    """Return what was planned of as many copies as are asked for; a panel's staves are one copy."""
    left = {part.name: part.quantity + part.spares for part in parts}
    copies = set[tuple[str, int]]()
    found = []
    for p in (*kept, *planned):
        if (p.part, p.copy) not in copies and left.get(p.part, 0) > 0:
            left[p.part] -= 1
            copies.add((p.part, p.copy))
        if (p.part, p.copy) in copies:
            found.append(p)
    return [p for p in found if p not in kept]


def is_worth_more(
    one: Sequence[Placement],
    other: Sequence[Placement],
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
) -> bool:
    """Whether one layout is better: what is asked for, then less wood, then spares and fillers."""

    def worth(placed: Sequence[Placement]) -> tuple[float, float, float]:
        have, opened = copies_placed(placed, parts, shop), {p.board for p in placed}
        asked = sum(min(have[p.name], p.quantity) * value_mm2(p) for p in parts if not p.filler)
        wood = sum(board.wood(1).area for board in boards if board.id in opened)
        # To within rounding: sums of the same values in another order differ by that.
        return round(asked, 3), -round(wood, 3), sum(have[p.name] * value_mm2(p) for p in parts)

    return worth(one) > worth(other)


def filled_up(
    was: tuple[Placement, ...],
    kept: tuple[Placement, ...],
    former: Layout | None,
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
    clock: Clock,
) -> tuple[PartsList, tuple[Placement, ...]]:
    """Return the parts in the sizes that a former layout has, and what it holds of them, filled up.

    ``was``: all that stays of it; ``kept``: what of that is fixed. Panels in staves are not added.
    """
    listed = sized(parts, fixed_sizes(givings_of(parts), parts, was, shop))
    rows = tuple(part for part in listed if not is_glued(part))
    placed = with_last_fill(boards, rows, was, kept, former, shop)
    seed = former.seed if former is not None else 1
    return listed, tuple(with_the_rest(boards, rows, placed, former, shop, seed, clock))
