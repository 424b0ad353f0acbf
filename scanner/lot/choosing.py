"""Which boards to take: the cheapest set that still holds the parts, and what each board is worth.

Boards are put back one by one for as long as the real solver still places as much on the rest
(backward elimination, from several orders). The set is the cheapest that was found, not proven to
be the cheapest there is; every answer rests on layouts that were really made.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count

import numpy as np

from scanner.board.board import Board
from scanner.lot.money import board_prices
from scanner.lot.totals import board_totals
from scanner.placement.layout import Layout
from scanner.placement.parts import PartsList
from scanner.placement.shop import FootPrice, Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.wanted.items import value_mm2

# Search steps a set of boards: a set that holds the parts is found early or hardly at all.
_STEPS = 80
# The orders in which boards are tried to be put back.
_ORDERS = 3


@dataclass(frozen=True, slots=True)
class Worth:
    """What the list loses without one board: parts by name to how many fewer are placed."""

    board: str
    price: float
    lost: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """The boards to take.

    Attributes
    ----------
    taken
        Their ids, in the order given.
    price
        Of the boards taken.
    price_of_all
        Of all boards that are not begun.
    placed, asked
        Parts on the boards taken, and parts of the list; both with spares and fillers.
    lacking
        Parts without a place, spares and fillers left aside.
    worth
        Of every board taken: what is lost without it.
    by_price
        Whether prices were given; else board feet stand for them.
    pile
        What an unsorted pile of these boards would cost, taken as they come until the parts are
        held: the price of each shuffle, least first. Empty where it was not asked for.
    begun
        Boards of which parts are cut: they are used anyway, cost nothing more and are not among
        those taken.
    """

    taken: tuple[str, ...]
    price: float
    price_of_all: float
    placed: int
    asked: int
    worth: tuple[Worth, ...]
    by_price: bool
    pile: tuple[float, ...] = ()
    begun: tuple[str, ...] = ()
    lacking: int = 0


def prices_of(
    boards: Sequence[Board], foot_prices: Sequence[FootPrice] = ()
) -> tuple[dict[str, float], bool]:
    """Return each board's price, or its board feet if any board has none; and which it is.

    A board without a price of its own costs its board feet times ``foot_prices``.
    """
    known = board_prices(boards, foot_prices)
    if len(known) == len(boards):
        return known, True
    return {totals.id: float(totals.board_feet) for totals in board_totals(boards)}, False


def choose_boards(
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    budget: float | None = None,
    place: Callable[[Sequence[Board], PartsList, Shop], Layout] | None = None,
    progress: Callable[[float], None] = lambda share: None,
    shuffles: int = 0,
    keep: Layout | None = None,
) -> Choice:
    """Return the cheapest set found that holds as much as all boards hold.

    Parameters
    ----------
    budget
        The set may cost no more than this; then the set of greatest value within it is sought.
    place
        Lays parts on boards; the real solver unless a test says otherwise.
    shuffles
        How often the boards are also taken as they come, against which picking by hand is held.
    keep
        What is cut or was spoiled, as it lay: such parts stay, and their boards are begun.
    progress
        Told before each set of boards that is tried, as a share; one that raises ends it.
    """
    begun = frozenset(p.board for p in keep.placements) if keep else frozenset()
    solved = place or partial(_solved, keep=keep)
    tried, most_sets = count(), _sets_to_try(len(boards), shuffles)

    def lay(given: Sequence[Board]) -> Layout:
        progress(min(1.0, next(tried) / most_sets))
        return solved(given, parts, shop)

    prices, by_price = prices_of(boards, shop.foot_prices)
    prices |= dict.fromkeys(begun, 0.0)
    yard = _Yard(boards, prices, begun, {part.name: value_mm2(part) for part in parts}, lay)
    most = yard.value(boards)
    taken = min((yard.thinned(order, most) for order in yard.orders()), key=yard.price)
    if budget is not None:
        taken = yard.within(taken, budget)
    layout = lay(taken) if taken else None
    counts = _counts(layout) if layout else {}
    worth = yard.worth_of(taken, counts)
    bought = {one.board for one in worth}
    return Choice(
        taken=tuple(board.id for board in boards if board.id in bought),
        price=yard.price(taken),
        price_of_all=yard.price(boards),
        placed=layout.summary.placed if layout else 0,
        asked=sum(part.quantity + part.spares for part in parts),
        worth=worth,
        by_price=by_price,
        pile=tuple(sorted(yard.pile_price(most, seed) for seed in range(shuffles))),
        begun=tuple(board.id for board in boards if board.id in begun),
        lacking=sum(
            max(0, part.quantity - counts.get(part.name, 0)) for part in parts if not part.filler
        ),
    )


@dataclass(frozen=True, slots=True)
class _Yard:
    """The boards to choose from, and what is placed where only some of them are taken.

    Attributes
    ----------
    prices
        Of each board by id; nothing for those that are begun.
    worth
        Of each part by name: priority times finished area of one copy, mm2.
    lay
        Lays all parts out on some of the boards.
    """

    boards: Sequence[Board]
    prices: Mapping[str, float]
    begun: Collection[str]
    worth: Mapping[str, float]
    lay: Callable[[Sequence[Board]], Layout]

    def price(self, boards: Iterable[Board]) -> float:
        """Return what these boards cost."""
        return sum(self.prices[board.id] for board in boards)

    def value(self, boards: Sequence[Board]) -> float:
        """Return priority times finished area of what is placed on these boards, mm2."""
        counts = _counts(self.lay(boards))
        return sum(count * self.worth.get(name, 0.0) for name, count in counts.items())

    def orders(self) -> tuple[list[Board], ...]:
        """Return the orders in which boards are tried to be put back: dear, poor, small first."""

        def area(board: Board) -> float:
            return float(board.faces[1].outline.area)

        free = [board for board in self.boards if board.id not in self.begun]
        dearest = sorted(free, key=lambda b: -self.prices[b.id])
        poorest = sorted(free, key=lambda b: -self.prices[b.id] / area(b))
        return dearest, poorest, sorted(free, key=area)

    def thinned(self, order: Sequence[Board], most: float) -> tuple[Board, ...]:
        """Put boards back in this order for as long as the rest holds as much."""
        kept = list(self.boards)
        for board in order:
            rest = _without(board, kept)
            if rest and self.value(rest) >= most - 1e-6:
                kept = rest
        return tuple(kept)

    def within(self, taken: Sequence[Board], budget: float) -> tuple[Board, ...]:
        """Put boards back, the one that costs least value for its price first, until it is paid."""
        kept = list(taken)
        while self.price(kept) > budget:

            def cost_of_leaving(board: Board) -> float:
                rest = _without(board, kept)
                return -(self.value(rest) if rest else 0.0) - 1e-9 * self.prices[board.id]

            kept.remove(min((b for b in kept if b.id not in self.begun), key=cost_of_leaving))
        return tuple(kept)

    def worth_of(self, taken: Sequence[Board], counts: Mapping[str, int]) -> tuple[Worth, ...]:
        """Return of each board that is paid for what is lost without it of what is placed."""
        found = []
        for board in taken:
            if board.id not in self.begun:
                rest = _without(board, taken)
                left = _counts(self.lay(rest)) if rest else {}
                found.append(Worth(board.id, self.prices[board.id], _fewer(counts, left)))
        return tuple(found)

    def pile_price(self, most: float, seed: int) -> float:
        """Return what boards cost taken in a drawn order until they hold as much as all."""
        drawn = np.random.default_rng(seed).permutation(len(self.boards))
        # What is begun is at hand before any board is taken.
        order = sorted((self.boards[n] for n in drawn), key=lambda b: b.id not in self.begun)
        too_few, enough = 0, len(order)
        while enough - too_few > 1:
            middle = (too_few + enough) // 2
            if self.value(order[:middle]) >= most - 1e-6:
                enough = middle
            else:
                too_few = middle
        return self.price(order[:enough])


def _sets_to_try(boards: int, shuffles: int) -> int:
    """Return how many sets are tried at most, but for what a budget that is too small adds."""
    # All; each board left out in each order; what is taken, and that without each board.
    return 2 + (_ORDERS + 1) * boards + shuffles * boards.bit_length()


def _solved(boards: Sequence[Board], parts: PartsList, shop: Shop, keep: Layout | None) -> Layout:
    # Only what is placed counts here: the bound would take far longer than the search.
    return solve(tuple(boards), parts, shop, Work(_STEPS), keep=keep, in_full=False)


def _without(board: Board, boards: Iterable[Board]) -> list[Board]:
    return [other for other in boards if other.id != board.id]


def _counts(layout: Layout) -> dict[str, int]:
    counts: dict[str, int] = {}
    for part, _ in {(p.part, p.copy) for p in layout.placements}:
        counts[part] = counts.get(part, 0) + 1
    return counts


def _fewer(before: Mapping[str, int], after: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    lost: Iterable[tuple[str, int]] = (
        (name, count - after.get(name, 0)) for name, count in before.items()
    )
    return tuple((name, count) for name, count in lost if count > 0)
