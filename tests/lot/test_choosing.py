"""Which boards to take, on lots small enough to be tried out by hand."""

from dataclasses import replace
from itertools import combinations

import pytest

from scanner.lot.choosing import choose_boards, prices_of
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import FootPrice, Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from tests.common import plain_board, small_layout

RAIL = Part("rail", 2, 600.0, 90.0, 19.0, Faces.BOTH)
SEAT = Part("seat", 1, 1500.0, 150.0, 19.0, Faces.BOTH)


def board(id, length_mm, width_mm, price):
    return replace(plain_board(id, length_mm, width_mm), price=price)


# A holds everything and is dear; B holds the seat, C the rails, D nothing of use.
LOT = (
    board("A", 3000.0, 200.0, 60.0),
    board("B", 1700.0, 180.0, 20.0),
    board("C", 1500.0, 120.0, 11.0),
    board("D", 500.0, 80.0, 3.0),
)


@pytest.mark.slow
def test_the_cheapest_set_is_the_one_that_trying_every_set_finds():
    parts = (RAIL, SEAT)
    prices, _ = prices_of(LOT)
    best = min(
        (sum(prices[b.id] for b in chosen), tuple(b.id for b in chosen))
        for size in (1, 2, 3, 4)
        for chosen in combinations(LOT, size)
        if solve(chosen, parts, Shop(), Work(80)).summary.placed == 3
    )
    choice = choose_boards(LOT, parts, Shop())
    assert (choice.price, choice.taken) == (best[0], best[1])
    assert choice.taken == ("B", "C")
    assert (choice.placed, choice.asked, choice.price_of_all) == (3, 3, 94.0)


@pytest.mark.slow
def test_each_board_is_worth_what_is_lost_without_it():
    choice = choose_boards(LOT, (RAIL, SEAT), Shop())
    assert {one.board: one.lost for one in choice.worth} == {
        "B": (("seat", 1),),
        "C": (("rail", 2),),
    }


@pytest.mark.slow
def test_a_budget_takes_what_is_worth_most():
    # 20 pays for B (the seat, 0.225 m2) and not for C beside it (the rails, 0.108 m2).
    choice = choose_boards(LOT, (RAIL, SEAT), Shop(), budget=25.0)
    assert choice.taken == ("B",)
    assert choice.placed == 1
    assert choose_boards(LOT, (RAIL, SEAT), Shop(), budget=1.0).taken == ()


def test_a_pile_is_paid_for_up_to_the_board_that_makes_it_enough():
    # Stood in for: A alone holds all, or B and C together. Orders that begin with A cost 60, those
    # in which A comes last 34 or less before it; none is cheaper than B and C.
    def lay(boards, parts, shop):
        ids = {one.id for one in boards}
        whole = "A" in ids or {"B", "C"} <= ids
        rail = Placement("rail", 1, "A", 0, 0, 600, 90)
        return replace(small_layout(), placements=(rail, replace(rail, copy=2)) if whole else ())

    choice = choose_boards(LOT, (RAIL,), Shop(), place=lay, shuffles=24)
    assert len(choice.pile) == 24
    assert choice.pile == tuple(sorted(choice.pile))
    assert choice.pile[0] >= choice.price == 31.0
    assert set(choice.pile) <= {31.0, 34.0, 60.0, 63.0, 71.0, 74.0, 80.0, 83.0}
    assert len(set(choice.pile)) > 2


def test_a_board_that_is_begun_is_used_and_costs_nothing_more():
    """Stood in for: A holds all, or B the seat and C the rails."""
    seat, rail = (Placement(name, 1, "C", 0, 0, 600, 90) for name in ("seat", "rail"))

    def lay(boards, parts, shop):
        ids = {one.id for one in boards}
        assert begun <= ids, "a begun board is never put back"
        seats = (seat,) if ids & {"A", "B"} else ()
        rails = (rail, replace(rail, copy=2)) if ids & {"A", "C"} else ()
        return replace(small_layout(), placements=seats + rails)

    def chosen(**more):
        keep = replace(small_layout(), placements=tuple(replace(rail, board=b) for b in begun))
        return choose_boards(LOT, (RAIL, SEAT), Shop(), place=lay, keep=keep, **more)

    begun = {"C"}
    choice = chosen(shuffles=24)
    assert (choice.taken, choice.begun, choice.price) == (("B",), ("C",), 20.0)
    assert choice.price_of_all == 83.0
    assert [one.board for one in choice.worth] == ["B"]
    assert set(choice.pile) == {20.0, 23.0, 60.0, 63.0}
    # Out of nothing the rails are still there, as their board is paid for.
    assert chosen(budget=1.0).taken == () and chosen(budget=1.0).worth == ()
    begun = {"A"}
    assert (chosen().taken, chosen().price, chosen().begun) == ((), 0.0, ("A",))


@pytest.mark.slow
def test_without_prices_board_feet_stand_for_them():
    lot = tuple(replace(one, price=None) for one in LOT)
    choice = choose_boards(lot, (SEAT,), Shop())
    assert not choice.by_price
    # 180 mm x 1700 mm: 7.09 in x 5 ft / 12 = 2.95, so 3.
    assert choice.price == pytest.approx(3)


def test_a_board_without_a_price_costs_its_board_feet_times_the_price_of_a_foot():
    # 180 mm x 1700 mm: 7.09 in x 5 ft / 12 = 2.95, so 3 board feet.
    unpriced = replace(LOT[1], price=None)
    by_foot = (FootPrice(unpriced.species.casefold(), None, 6.5),)
    assert prices_of((LOT[0], unpriced), by_foot) == ({"A": 60.0, "B": 19.5}, True)
    assert not prices_of((LOT[0], unpriced))[1]


def placed_on_a(name, count):
    one = Placement(name, 1, "A", 0, 0, 600, 90)
    return tuple(replace(one, copy=n) for n in range(1, count + 1))


def test_spares_and_fillers_are_asked_for_like_parts_and_lack_nobody():
    # Two rails, a spare of them and four fillers: seven are asked for, and what lacks is a rail.
    wedge = Part("wedge", 4, 60.0, 20.0, 19.0, Faces.SOUND, filler=True)
    parts = (replace(RAIL, spares=1), wedge)

    def laid(rails, wedges):
        placements = (*placed_on_a("rail", rails), *placed_on_a("wedge", wedges))
        summary = replace(small_layout().summary, placed=len(placements))
        layout = replace(small_layout(), placements=placements, summary=summary)
        return choose_boards(LOT[:1], parts, Shop(), place=lambda *_: layout)

    full, no_spare, short = laid(3, 4), laid(2, 0), laid(1, 4)
    assert (full.placed, full.asked, full.lacking) == (7, 7, 0)
    assert (no_spare.placed, no_spare.asked, no_spare.lacking) == (2, 7, 0)
    assert (short.placed, short.asked, short.lacking) == (5, 7, 1)


def test_how_far_it_is_is_told_before_every_set_and_ends_it_where_somebody_stops_it():
    told, laid = [], []

    def lay(boards, parts, shop):
        laid.append(tuple(board.id for board in boards))
        return replace(small_layout(), placements=placed_on_a("rail", 2))

    choose_boards(LOT, (RAIL,), Shop(), place=lay, progress=told.append, shuffles=3)
    assert len(told) == len(laid) > 12
    assert told[0] == 0 and told == sorted(told) and told[-1] <= 1

    def stop(share):
        if share > 0.1:
            raise KeyboardInterrupt

    laid.clear()
    with pytest.raises(KeyboardInterrupt):
        choose_boards(LOT, (RAIL,), Shop(), place=lay, progress=stop)
    assert len(laid) < 5
