"""Which one change saves a board: change one thing, lay all parts out again, measure what it saves.

Nothing is applied: the maker changes the parts list, or does not.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.lot.changes import Change, changes_of, with_change
from scanner.placement.layout import STILL_WOOD, Layout
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work

# Less wood than this is no saving, square millimetres (a hundredth of a square metre).
_LEAST_AREA_MM2 = 1e4
MOST_OFFERED = 3


@dataclass(frozen=True, slots=True)
class Saving:
    """One change and what it was measured to save against the layout there is.

    Attributes
    ----------
    placed
        Parts more that find a place, spares not counted.
    spares
        Spares more that find a place; negative where it costs some.
    boards, area_mm2
        Boards, and wood, fewer opened; negative where the parts placed more need more.
    layout
        The layout that was found with the change.
    """

    change: Change
    placed: int
    boards: int
    area_mm2: float
    board_feet: float
    layout: Layout
    spares: int = 0

    @property
    def is_one(self) -> bool:
        """Whether it places a missing part, or saves a whole board and loses no part."""
        return self.placed > 0 or (self.placed == 0 and self.boards > 0)


@dataclass(frozen=True, slots=True)
class Search:
    """What was looked for: the savings found, cheapest first, and how many layouts were tried.

    ``same_list`` is the saving that laying out again without any change would bring, None without.
    """

    savings: tuple[Saving, ...]
    tried: int
    is_complete: bool
    same_list: Saving | None = None


def find_savings(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    *,
    steps: int,
    trials: int,
    progress: Callable[[float], None] = lambda share: None,
) -> Search:
    """Return the three cheapest changes that save a board or place a missing part.

    Parameters
    ----------
    steps
        Search steps of each trial: the same for every change, and for no change at all.
    trials
        Layouts that may be made; missing parts come first, then those of the emptiest boards.
    """
    made = 0

    def tried(changed: PartsList) -> Layout:
        nonlocal made
        made += 1
        progress(min(1.0, made / max(trials, 1)))
        stop = Work(steps)
        return solve(
            tuple(boards), changed, shop, stop, seed=layout.seed, keep=layout, in_full=False
        )

    # So much work alone may better the layout; only what a change adds to that is its saving.
    again = tried(parts)
    base = max(layout, again, key=lambda one: _worth(one, parts))
    found: list[Saving] = []
    kinds = list(_kinds(layout, parts, shop))
    for number, steps_of_kind in enumerate(kinds):
        if made >= trials:
            break
        # The largest step first: if that saves nothing, no smaller one will.
        changed = with_change(parts, steps_of_kind[-1])
        widest = _measured(steps_of_kind[-1], base, tried(changed), parts)
        if not widest.is_one:
            continue
        best = widest
        for change in steps_of_kind[:-1]:
            if made >= trials:
                break
            smaller = _measured(change, base, tried(with_change(parts, change)), parts)
            if smaller.is_one:
                best = smaller
                break
        found.append(best)
        if len(found) >= 2 * MOST_OFFERED and number >= len(kinds) // 2:
            break
    found.sort(key=lambda one: (one.change.price, -one.placed, -one.boards, -one.area_mm2))
    free = _measured_again(again, layout, parts)
    return Search(tuple(found[:MOST_OFFERED]), made, made < trials, free)


def _kinds(layout: Layout, parts: PartsList, shop: Shop) -> Iterator[tuple[Change, ...]]:
    """Yield kinds of change by turns: of missing parts first, then of the emptiest boards."""
    rows = [changes_of(part, shop) for part in _rows_in_turn(layout, parts)]
    for rank in range(max((len(kinds) for kinds in rows), default=0)):
        for kinds in rows:
            if rank < len(kinds):
                yield kinds[rank]


def _rows_in_turn(layout: Layout, parts: PartsList) -> list[Part]:
    have = Counter(p.part for p in layout.placements if p.state != "spoiled")
    # A part that only lacks spares is not missing.
    missing = {part.name for part in parts if have[part.name] < part.quantity}
    area = Counter[str]()
    for p in layout.placements:
        area[p.board] += round(p.length_mm * p.width_mm)
    boards = sorted(area, key=lambda board: area[board])
    rank = {board: n for n, board in enumerate(boards)}

    def turn(part: Part) -> tuple[bool, float]:
        own = [rank[p.board] for p in layout.placements if p.part == part.name]
        return part.name not in missing, min(own, default=0.0)

    cut = {p.part for p in layout.placements if p.state not in STILL_WOOD}
    # What is begun is not changed any more.
    return sorted((part for part in parts if part.name not in cut), key=turn)


def _placed(layout: Layout, parts: PartsList) -> tuple[int, int]:
    """Return how many parts, and how many spares, have their place."""
    # What was spoiled is asked for again.
    have = Counter(p.part for p in layout.placements if p.state != "spoiled")
    asked = sum(min(have[part.name], part.quantity) for part in parts)
    return asked, have.total() - asked


def _worth(layout: Layout, parts: PartsList) -> tuple[int, int, int, float]:
    asked, spares = _placed(layout, parts)
    return asked, -layout.summary.boards_opened, spares, -layout.summary.area_opened_mm2


def _measured(change: Change, base: Layout, found: Layout, parts: PartsList) -> Saving:
    before, after = base.summary, found.summary
    (had, had_spares), (has, has_spares) = _placed(base, parts), _placed(found, parts)
    return Saving(
        change,
        has - had,
        before.boards_opened - after.boards_opened,
        before.area_opened_mm2 - after.area_opened_mm2,
        before.board_feet - after.board_feet,
        found,
        has_spares - had_spares,
    )


def _measured_again(again: Layout, layout: Layout, parts: PartsList) -> Saving | None:
    nothing = Change(Part("", 0, 1.0, 1.0, 1.0, Faces.HIDDEN), "laying the parts out again", 0.0)
    saving = _measured(nothing, layout, again, parts)
    return saving if saving.is_one else None


def saving_words(saving: Saving) -> str:
    """Return what a change saves, in words."""
    said = []
    if saving.placed > 0:
        said.append(f"places {saving.placed} {'part' if saving.placed == 1 else 'parts'} more")
    if saving.boards > 0:
        said.append(f"saves {saving.boards} {'board' if saving.boards == 1 else 'boards'}")
    if saving.boards < 0:
        said.append(f"opens {-saving.boards} more {'board' if saving.boards == -1 else 'boards'}")
    if saving.spares:
        spares = f"{abs(saving.spares)} {'spare' if abs(saving.spares) == 1 else 'spares'}"
        said.append(f"places {spares} {'more' if saving.spares > 0 else 'fewer'}")
    if abs(saving.area_mm2) >= _LEAST_AREA_MM2:
        more = "less" if saving.board_feet > 0 else "more"
        said.append(f"{abs(saving.board_feet):.1f} board feet {more} opened")
    return ", ".join(said) or "saves nothing"
