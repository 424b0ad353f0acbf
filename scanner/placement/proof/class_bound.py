"""The bound of a cut class: prices by column generation, each bound with exact pricing.

For any price p at or above 0 of a copy of each part, no layout of the class is worth more than
wanted . p plus, board by board, the most that value - p buys there; so every round's sum is a
bound, whether or not the prices have settled (A. M. Geoffrion, "Lagrangean relaxation for integer
programming", Mathematical Programming Study 2 (1974)). Prices come from a linear programme over
what the boards were found to hold (P. C. Gilmore and R. E. Gomory, Operations Research 9 (1961)),
held near to the best ones so far (P. Wentges, "Weighted Dantzig-Wolfe decomposition for linear
mixed-integer programming", International Transactions in Operational Research 4 (1997)).
"""

from collections.abc import Callable, Sequence

import numpy as np

from scanner.placement.choosing.programme import least_whole
from scanner.placement.proof.closer_look import CloserLook, Maker
from scanner.placement.proof.pricing import Found, Pricing
from scanner.placement.proof.whole_copies import WholeCopies
from scanner.placement.proof.whole_value import WholeValue
from scanner.placement.wanted.items import Floats

_STEADY = 0.6
_MOST_ROUNDS = 60
_NEAR_ENOUGH = 5e-4
# So many sets of boards are refuted at most; one is where it holds this much too little.
_MOST_LIMITS = 60
# Of sets that were not refuted and could not be laid out so many are passed by.
_MOST_HUNTED = 8
_SHORT = 0.995
_MOST_NODES = 4000
# Up to so many boards are asked for whole copies: more leave too much slack.
_MOST_IN_WHOLE = 12
_RIGHT = 1 - 1e-6
# Boards keep a limit where they are worth so much of it.
_KEPT = 1 - 1e-7


def class_value_bound(
    pricing: Pricing,
    value: Floats,
    price: Floats,
    wanted: Floats,
    reached: float,
    is_over: Callable[[], bool],
    may_hold: Callable[[int, Floats], bool] = lambda _board, _counts: True,
    maker: Maker | None = None,
    seconds_left: Callable[[], float] = lambda: float("inf"),
    is_quick: bool = False,
    closest: Callable[[int, Floats], bool] = lambda _board, _counts: True,
) -> float:
    """Return what no layout of the class is worth more than; infinity where time ran out first.

    Coarse cells find the prices and a first bound, fine ones a lower one, whole copies the last.

    price: of a copy of each part, where to begin; reached: the value of a known layout; may_hold:
    whether a board may hold so many copies of each part, is_quick: whether that takes no time to
    speak of; closest: the same as far as is asked at all; maker as for ``class_area_bound``.
    """
    best, centre = float("inf"), price
    for deep in range(1, pricing.levels + 1):
        most, centre = _settle(pricing, value, wanted, centre, reached, deep, is_over)
        best = min(best, most)
    if is_over() or len(pricing.grids) > _MOST_IN_WHOLE or not reached < best:
        return best
    closer = CloserLook(may_hold, closest=closest, is_quick=is_quick)
    copies = WholeValue(pricing, value, wanted, is_over, closer, maker, seconds_left)
    return copies.bound(centre, best, reached)


def _settle(
    pricing: Pricing,
    value: Floats,
    wanted: Floats,
    price: Floats,
    enough: float,
    deep: int,
    is_over: Callable[[], bool],
    boards: Sequence[int] = (),
    goal: float = float("inf"),
    found: Found | None = None,
) -> tuple[float, Floats]:
    """Return the lowest bound on these boards (none: all), and the prices that give it.

    It need not be lower than ``enough``, nor is it sought where it is no lower than ``goal``.
    found: what boards were found to hold on this level, which grows.
    """
    found = found or Found(len(pricing.grids))
    best, centre = float("inf"), price
    if found.counts and found.prices(value, wanted, boards)[0] > goal:
        return best, centre
    for _ in range(_MOST_ROUNDS):
        if is_over():
            break
        worth, counts = pricing.at(value - price, deep, boards)
        is_new = found.add(counts)
        total = float(wanted @ price) + float(worth.sum())
        if total < best:
            best, centre = total, price
        linear, duals = found.prices(value, wanted, boards)
        is_settled = not is_new and np.allclose(price, duals)
        if best - linear < _NEAR_ENOUGH * best or not enough < best or linear > goal or is_settled:
            break
        price = _STEADY * centre + (1 - _STEADY) * duals if is_new else duals
    return best, centre


def class_area_bound(
    pricing: Pricing,
    size: Floats,
    wanted: Floats,
    area: Floats,
    reached: float,
    is_over: Callable[[], bool],
    closer: CloserLook | None = None,
    maker: Maker | None = None,
    seconds_left: Callable[[], float] = lambda: float("inf"),
) -> float:
    """Return the least area of boards on which a layout of the class has room for all parts.

    The cheapest boards that all limits allow are asked whether they hold everything; where prices
    say that they do not, those prices are one more limit: at them the boards opened must be worth
    what is wanted. Where only whole copies say so, some other board must be opened.

    size: mm2 of a copy; area: of each board; reached: of a known layout; closer: what single boards
    may hold as far as a closer look tells; maker: tries to lay out what is not refuted. Where it
    cannot, the next boards are tried first, and then the closer looks that take long.
    """
    goal = float(wanted @ size)
    if goal <= 0:
        return 0.0
    price, proven, opened = np.zeros(len(size)), 0.0, list[list[int]]()
    rows: list[Floats] = []
    closer, in_whole = closer or CloserLook(), np.zeros(0)
    searched = dict[tuple[int, ...], bool]()

    def search(boards: Sequence[int]) -> bool:
        key = tuple(boards)
        if key not in searched:
            searched[key] = maker is not None and maker.search(boards)
        return searched[key]

    for deep in range(1, pricing.levels + 1):
        is_last = deep == pricing.levels
        copies = WholeCopies(
            pricing, size, wanted, deep, is_over, closer, in_whole, maker if is_last else None,
            seconds_left, search,
        )  # fmt: skip
        is_new, found = True, Found(len(pricing.grids))
        for _ in range(_MOST_LIMITS):
            # Boards that hold everything are worth what is wanted at any prices, these, too.
            need = float(wanted @ (size - price))
            if is_over() or need <= 0:
                return proven
            if is_new:
                worths = pricing.at(size - price, deep)[0]
                if not np.all(np.isfinite(worths)):
                    return proven
                rows.append(worths / need)
            boards, least = _cheapest(np.array(rows), area)
            proven = max(proven, _least_of(least, opened, area))
            if not boards or least >= min(reached, copies.laid_area(area)) * _RIGHT:
                if not opened:
                    return min(proven, reached)
                break
            worth, there = _settle(
                pricing, size, wanted, price, _SHORT * goal, deep, is_over, boards, goal * _RIGHT,
                found,
            )  # fmt: skip
            is_new = worth < goal * _RIGHT
            if is_new:
                price = there
                continue
            may_refute = deep > 1 and len(boards) <= _MOST_IN_WHOLE
            if not (may_refute and copies.refutes(boards, _of_all(size - there, wanted))):
                in_whole = copies.price
                if maker is None or not (may_refute and is_last):
                    break
                opened.append(boards)
                if len(opened) > _MOST_HUNTED:
                    break
            others = np.ones(len(area))
            others[boards] = 0.0
            rows.append(others)
        reached = min(reached, copies.laid_area(area))
    while opened and not is_over() and copies.refutes_closely(opened[0]):
        opened = opened[1:]
        proven = max(proven, _least_of(least, opened, area))
    return min(proven, reached)


def _of_all(price: Floats, wanted: Floats) -> Floats:
    """Return prices at which all that is wanted costs 1."""
    price = np.maximum(price, 0.0)
    return price / float(price @ wanted)


def _least_of(least: float, opened: Sequence[Sequence[int]], area: Floats) -> float:
    """Return the least area where all boards but those opened so far need ``least``."""
    return min([least, *(float(area[list(boards)].sum()) * _RIGHT for boards in opened)])


def _cheapest(rows: Floats, area: Floats) -> tuple[list[int], float]:
    """Return the boards of least area that keep all limits, and what that area is at least."""
    ones = np.ones(len(area))
    found = least_whole(area, rows, np.full(len(rows), _KEPT), 0 * ones, ones, _MOST_NODES)
    if found.bound is None or found.x is None:
        return [], 0.0
    boards = _none_too_many([int(b) for b in np.flatnonzero(found.x > 0.5)], rows)
    return boards, float(found.bound) * _RIGHT


def _none_too_many(boards: list[int], rows: Floats) -> list[int]:
    """Return boards that keep all limits, (L, B), without those that need not be among them.

    Out of nodes the answer may hold one more than it needs. Where what is left could not be refuted
    either, the area of all would be told as needed, and fewer of them might do.
    """
    for b in boards:
        fewer = [other for other in boards if other != b]
        if np.all(rows[:, fewer].sum(axis=1) >= _KEPT):
            boards = fewer
    return boards
