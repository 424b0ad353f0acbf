"""Which boards to take: the cheapest set that still holds the parts, and what each board is worth.

Boards are put back one by one for as long as the real solver still places as much on the rest
(backward elimination, from several orders). The set is the cheapest that was found, not proven to
be the cheapest there is; every answer rests on layouts that were really made.
"""

from collections.abc import Callable, Collection, Iterable, Sequence
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

    def lay(given: Sequence[Board], parts: PartsList, shop: Shop) -> Layout:
        progress(min(1.0, next(tried) / most_sets))
        return solved(given, parts, shop)

    prices, by_price = prices_of(boards, shop.foot_prices)
    prices |= dict.fromkeys(begun, 0.0)
    most = _value(lay(boards, parts, shop), parts)
    orders = _orders(boards, prices)
    sets: list[tuple[Board, ...]] = []
    for order in orders:
        free = [board for board in order if board.id not in begun]
        sets.append(_thinned(free, boards, parts, shop, most, lay))
    taken = min(sets, key=lambda chosen: sum(prices[board.id] for board in chosen))
    if budget is not None:
        taken = _within(taken, parts, shop, prices, budget, lay, begun)
    layout = lay(taken, parts, shop) if taken else None
    counts = _counts(layout) if layout else {}
    worth, bought = [], [board for board in taken if board.id not in begun]
    for board in bought:
        rest = [other for other in taken if other.id != board.id]
        without = _counts(lay(rest, parts, shop)) if rest else {}
        lost = _fewer(counts, without)
        worth.append(Worth(board.id, prices[board.id], lost))
    return Choice(
        taken=tuple(board.id for board in boards if board in bought),
        price=sum(prices[board.id] for board in bought),
        price_of_all=sum(prices.values()),
        placed=layout.summary.placed if layout else 0,
        asked=sum(part.quantity + part.spares for part in parts),
        worth=tuple(worth),
        by_price=by_price,
        pile=tuple(
            sorted(
                _pile_price(boards, parts, shop, prices, most, lay, begun, seed)
                for seed in range(shuffles)
            )
        ),
        begun=tuple(board.id for board in boards if board.id in begun),
        lacking=sum(
            max(0, part.quantity - counts.get(part.name, 0)) for part in parts if not part.filler
        ),
    )


def _sets_to_try(boards: int, shuffles: int) -> int:
    """Return how many sets are tried at most, but for what a budget that is too small adds."""
    # All; each board left out in each order; what is taken, and that without each board.
    return 2 + (_ORDERS + 1) * boards + shuffles * boards.bit_length()


def _pile_price(
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    prices: dict[str, float],
    most: float,
    lay: Callable[[Sequence[Board], PartsList, Shop], Layout],
    begun: Collection[str],
    seed: int,
) -> float:
    """Return what boards cost that are taken in a drawn order until they hold as much as all."""
    order = [boards[n] for n in np.random.default_rng(seed).permutation(len(boards))]
    # What is begun is at hand before any board is taken.
    order.sort(key=lambda board: board.id not in begun)
    too_few, enough = 0, len(order)
    while enough - too_few > 1:
        count = (too_few + enough) // 2
        if _value(lay(order[:count], parts, shop), parts) >= most - 1e-6:
            enough = count
        else:
            too_few = count
    return sum(prices[board.id] for board in order[:enough])


def _solved(boards: Sequence[Board], parts: PartsList, shop: Shop, keep: Layout | None) -> Layout:
    # Only what is placed counts here: the bound would take far longer than the search.
    return solve(tuple(boards), parts, shop, Work(_STEPS), keep=keep, in_full=False)


def _orders(boards: Sequence[Board], prices: dict[str, float]) -> list[list[Board]]:
    """Return the orders in which boards are tried to be put back."""

    def area(board: Board) -> float:
        return float(board.faces[1].outline.area)

    dearest = sorted(boards, key=lambda b: -prices[b.id])
    poorest = sorted(boards, key=lambda b: -prices[b.id] / area(b))
    smallest = sorted(boards, key=area)
    return [dearest, poorest, smallest]


def _thinned(
    order: Sequence[Board],
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    most: float,
    lay: Callable[[Sequence[Board], PartsList, Shop], Layout],
) -> tuple[Board, ...]:
    """Put boards back in this order for as long as the rest holds as much."""
    kept = list(boards)
    for board in order:
        rest = [other for other in kept if other.id != board.id]
        if rest and _value(lay(rest, parts, shop), parts) >= most - 1e-6:
            kept = rest
    return tuple(kept)


def _within(
    taken: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    prices: dict[str, float],
    budget: float,
    lay: Callable[[Sequence[Board], PartsList, Shop], Layout],
    begun: Collection[str],
) -> tuple[Board, ...]:
    """Put boards back, the one that costs least value for its price first, until it is paid."""
    kept = list(taken)
    while sum(prices[board.id] for board in kept) > budget:

        def cost_of_leaving(board: Board) -> float:
            rest = [other for other in kept if other.id != board.id]
            value = _value(lay(rest, parts, shop), parts) if rest else 0.0
            return -value - 1e-9 * prices[board.id]

        kept.remove(min((b for b in kept if b.id not in begun), key=cost_of_leaving))
    return tuple(kept)


def _value(layout: Layout, parts: PartsList) -> float:
    """Return priority times finished area of what is placed."""
    worth = {part.name: value_mm2(part) for part in parts}
    return sum(count * worth.get(name, 0.0) for name, count in _counts(layout).items())


def _counts(layout: Layout) -> dict[str, int]:
    counts: dict[str, int] = {}
    for part, _ in {(p.part, p.copy) for p in layout.placements}:
        counts[part] = counts.get(part, 0) + 1
    return counts


def _fewer(before: dict[str, int], after: dict[str, int]) -> tuple[tuple[str, int], ...]:
    lost: Iterable[tuple[str, int]] = (
        (name, count - after.get(name, 0)) for name, count in before.items()
    )
    return tuple((name, count) for name, count in lost if count > 0)
