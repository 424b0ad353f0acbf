"""What a better match would cost in wood: a group of loose parts side by side from one board."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scanner.board.assembly import Assembly
from scanner.board.board import Board
from scanner.placement.layout import STILL_WOOD, Layout
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.wanted.sets import Manner

# Less than this is the same wood.
_SAME_FEET = 0.05


@dataclass(frozen=True, slots=True)
class MatchPrice:
    """A layout in which the group lies side by side on one board, and what it costs in words.

    ``layout`` is None where no board holds the group so; ``why`` says it.
    """

    layout: Layout | None
    words: str = ""
    why: str = ""


def match_price(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    assembly: Assembly,
    steps_per_board: int,
) -> MatchPrice | None:
    """Lay all parts out again with the group as a matched set, and say what that takes.

    What is cut or locked stays. None where the group comes from one board already or is a set.
    """
    names = {member.part for member in assembly.members}
    is_glued = any(member.stave for member in assembly.members)
    is_of_one_board = len({member.board for member in assembly.members}) == 1
    if is_glued or is_of_one_board or any(part.match for part in parts if part.name in names):
        return None
    beside = tuple(
        replace(part, match=f"{assembly.title.replace(':', ' ')}:{Manner.BESIDE}", spares=0)
        if part.name in names
        else part
        for part in parts
    )
    stop = Work(steps_per_board * max(1, len(boards)))
    # Also found anew: what is planned may keep the set from lying together.
    tried = [
        solve(tuple(boards), beside, shop, stop, seed=layout.seed, keep=keep, in_full=False)
        for keep in (layout, _fixed_only(layout))
    ]
    best = max(tried, key=lambda one: (one.summary.placed, -one.summary.area_opened_mm2))
    wanted = len(assembly.members)
    together = [p for p in best.placements if p.part in names]
    if len(together) < wanted or len({p.board for p in together}) > 1:
        return MatchPrice(None, why=f"no one board holds all {wanted} beside what stays")
    return MatchPrice(best, _words(layout, best))


def _fixed_only(layout: Layout) -> Layout:
    kept = tuple(p for p in layout.placements if p.locked or p.state not in STILL_WOOD)
    return replace(layout, placements=kept, pieces=(), cuts=())


def _words(now: Layout, other: Layout) -> str:
    lost = now.summary.placed - other.summary.placed
    feet = other.summary.board_feet - now.summary.board_feet
    boards = other.summary.boards_opened - now.summary.boards_opened
    said = []
    if lost > 0:
        said.append(f"{lost} {'part finds' if lost == 1 else 'parts find'} no place then")
    if boards > 0:
        said.append(f"{boards} more {'board is' if boards == 1 else 'boards are'} opened")
    if abs(feet) >= _SAME_FEET:
        said.append(f"{abs(feet):.1f} board feet {'more' if feet > 0 else 'less'} wood")
    return ", ".join(said) or "it costs no more wood"
