"""Which one change saves a board: change one thing, lay all parts out again, measure what it saves.

Nothing is applied: the maker changes the parts list, or does not.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.lot.changes import Change, changes_of, with_change
from scanner.placement.layout import STILL_WOOD, Layout
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work

# Less wood than this is no saving, square millimetres (a hundredth of a square metre).
_LEAST_AREA_MM2 = 1e4
MOST_OFFERED = 3


@dataclass(frozen=True, slots=True)
class Gain:
    """What one layout of the same parts is better in than another.

    Attributes
    ----------
    placed
        Parts more that find a place, spares not counted.
    spares
        Spares more that find a place; negative where it costs some.
    boards, area_mm2
        Boards, and wood, fewer opened; negative where the parts placed more need more.
    """

    placed: int
    boards: int
    area_mm2: float
    board_feet: float
    spares: int = 0

    @property
    def is_saving(self) -> bool:
        """Whether it places a missing part, or saves a whole board and loses no part."""
        return self.placed > 0 or (self.placed == 0 and self.boards > 0)


@dataclass(frozen=True, slots=True)
class Saving:
    """One change, what it was measured to save against the layout there is, and its layout."""

    change: Change
    gain: Gain
    layout: Layout


@dataclass(frozen=True, slots=True)
class Search:
    """What was looked for: the savings found, cheapest first, and how many layouts were tried.

    ``same_list`` is what laying out again without any change would save, None where nothing.
    """

    savings: tuple[Saving, ...]
    tried: int
    is_complete: bool
    same_list: Gain | None = None


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
        if not widest.gain.is_saving:
            continue
        best = widest
        for change in steps_of_kind[:-1]:
            if made >= trials:
                break
            smaller = _measured(change, base, tried(with_change(parts, change)), parts)
            if smaller.gain.is_saving:
                best = smaller
                break
        found.append(best)
        if len(found) >= 2 * MOST_OFFERED and number >= len(kinds) // 2:
            break
    found.sort(
        key=lambda one: (one.change.price, -one.gain.placed, -one.gain.boards, -one.gain.area_mm2)
    )
    free = _gain(layout, again, parts)
    return Search(
        tuple(found[:MOST_OFFERED]), made, made < trials, free if free.is_saving else None
    )


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
    return Saving(change, _gain(base, found, parts), found)


def _gain(base: Layout, found: Layout, parts: PartsList) -> Gain:
    before, after = base.summary, found.summary
    (had, had_spares), (has, has_spares) = _placed(base, parts), _placed(found, parts)
    return Gain(
        has - had,
        before.boards_opened - after.boards_opened,
        before.area_opened_mm2 - after.area_opened_mm2,
        before.board_feet - after.board_feet,
        has_spares - had_spares,
    )


def gain_words(gain: Gain) -> str:
    """Return what is saved, in words."""
    said = []
    if gain.placed > 0:
        said.append(f"places {gain.placed} {'part' if gain.placed == 1 else 'parts'} more")
    if gain.boards > 0:
        said.append(f"saves {gain.boards} {'board' if gain.boards == 1 else 'boards'}")
    if gain.boards < 0:
        said.append(f"opens {-gain.boards} more {'board' if gain.boards == -1 else 'boards'}")
    if gain.spares:
        spares = f"{abs(gain.spares)} {'spare' if abs(gain.spares) == 1 else 'spares'}"
        said.append(f"places {spares} {'more' if gain.spares > 0 else 'fewer'}")
    if abs(gain.area_mm2) >= _LEAST_AREA_MM2:
        more = "less" if gain.board_feet > 0 else "more"
        said.append(f"{abs(gain.board_feet):.1f} board feet {more} opened")
    return ", ".join(said) or "saves nothing"
