"""One change at a time: what each is measured to save, the cheapest first, none applied."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.lot.changes import changes_of, with_change
from scanner.lot.savings import find_savings, gain_words
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.common import plain_board

SHOP = Shop()
RAIL = Part("rail", 3, 400.0, 60.0, 19.0, Faces.BOTH)


def kinds(part, shop=SHOP):
    return [change.words for steps in changes_of(part, shop) for change in steps]


def test_smaller_steps_come_first_and_cost_less():
    ways = list(changes_of(replace(RAIL, faces=Faces.SOUND, max_knot_mm=10.0), SHOP))
    prices = [[change.price for change in steps] for steps in ways]
    assert all(one == sorted(set(one)) for one in prices)
    assert max(map(len, prices)) > 1


def test_a_size_that_may_give_already_is_not_changed():
    assert any("shorter" in words for words in kinds(RAIL))
    assert not any("shorter" in words for words in kinds(replace(RAIL, length_min_mm=390.0)))
    assert not any("shorter" in words for words in kinds(replace(RAIL, equal="rails")))


def test_a_small_part_gives_no_more_than_a_tenth():
    small = replace(RAIL, width_mm=40.0)
    assert [w for w in kinds(small) if "narrower" in w] == ["rail: 3 mm narrower (width_min)"]


def test_inches_give_by_eighths():
    words = [w for w in kinds(RAIL, Shop.inch()) if "shorter" in w]
    assert words[0] == "rail: 1/8 in shorter (length_min)"


def test_a_change_touches_its_own_row_only():
    other = replace(RAIL, name="stile")
    change = changes_of(RAIL, SHOP)[0][0]
    changed = with_change((RAIL, other), change)
    assert changed[1] == other and changed[0] != RAIL


def job(boards, parts):
    layout = solve(boards, parts, SHOP, Work(4), in_full=False)
    return find_savings(layout, boards, parts, SHOP, steps=4, trials=30), layout


@pytest.fixture(scope="module")
def short_by_little():
    """Three rails of 425 mm rough and two kerfs on 1281 mm beside trims: 8 mm are lacking."""
    board = plain_board(length_mm=1297.0, width_mm=80.0)
    return (*job((board,), (RAIL,)), (board,))


def test_a_missing_part_is_placed_by_the_cheapest_change(short_by_little):
    search, layout, _ = short_by_little
    assert layout.summary.placed == 2
    first = search.savings[0]
    # A quarter of each length allowance is 18 mm in all.
    assert first.change.words == "rail: 19 mm of 25 mm length allowance (length_allowance)"
    assert first.gain.placed == 1 and gain_words(first.gain) == "places 1 part more"
    assert len(search.savings) <= 3
    prices = [saving.change.price for saving in search.savings]
    assert prices == sorted(prices)


def test_what_is_said_to_be_saved_stands_up_to_the_judge(short_by_little):
    search, _, boards = short_by_little
    assert search.savings
    for saving in search.savings:
        changed = with_change((RAIL,), saving.change)
        assert validate_layout(saving.layout, boards, changed, SHOP) == ()
        assert saving.layout.summary.placed == 3


def test_a_board_is_saved_where_a_knot_may_show():
    knot = Flaw("F1", FlawKind.KNOT, {1: box(600, 30, 620, 45)}, sound=True,
                state=FlawState.CONFIRMED)  # fmt: skip
    one = plain_board("P01", length_mm=1330.0, width_mm=80.0).with_flaws((knot,))
    two = plain_board("P02", length_mm=1330.0, width_mm=80.0)
    search, layout = job((one, two), (replace(RAIL, quantity=6),))
    assert layout.summary.placed < 6
    best = [saving for saving in search.savings if "may" in saving.change.words]
    assert best and best[0].gain.placed >= 1
    assert all(saving.gain.is_saving for saving in search.savings)


def test_nothing_is_offered_where_nothing_helps():
    board = plain_board(length_mm=300.0, width_mm=80.0)
    search, layout = job((board,), (replace(RAIL, quantity=1),))
    assert layout.summary.placed == 0
    assert search.savings == ()


def test_a_spare_without_a_place_is_no_missing_part():
    """Two rails lie; their spare lacks 8 mm. No change is a saving for the spare's sake."""
    board = plain_board(length_mm=1297.0, width_mm=80.0)
    search, layout = job((board,), (replace(RAIL, quantity=2, spares=1),))
    assert (layout.summary.placed, layout.summary.asked) == (2, 3)
    assert search.savings == () and search.tried > 1


def test_a_part_that_was_spoiled_is_missing_again():
    """Two rails lie on a board that has room for three; one was spoiled in the shop."""
    board = plain_board(length_mm=1500.0, width_mm=80.0)
    two = (replace(RAIL, quantity=2),)
    layout = solve((board,), two, SHOP, Work(4), in_full=False)
    first, second = layout.placements
    spoiled = replace(layout, placements=(first, replace(second, state="spoiled")))
    search = find_savings(spoiled, (board,), two, SHOP, steps=4, trials=1)
    assert search.same_list is not None
    assert gain_words(search.same_list).startswith("places 1 part more")
