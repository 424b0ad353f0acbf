"""A lot placed again: what is missing is put in, and what lies stays."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.board import End
from scanner.board.flaw import FlawKind
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SIX, board, flaw, part

SHOP = SIX.shop


def places(layout) -> set[tuple[str, int, str, float, float]]:
    return {(p.part, p.copy, p.board, p.x_mm, p.y_mm) for p in layout.placements}


def test_a_part_asked_for_afterwards_goes_into_a_gap_and_nothing_else_moves() -> None:
    boards = (board("B1", 1000, 60), board("B2", 900, 60))
    long, short = part("rail", 2, 600, 60), part("cleat", 1, 200, 60)
    before = solve(boards, (long,), SHOP, Work(20))
    after = solve(boards, (long, short), SHOP, Work(20), seed=3, keep=before)
    assert after.summary.placed == 3
    assert places(before) < places(after)


def test_a_spoiled_part_is_laid_anew_and_nothing_else_moves() -> None:
    boards = (board("B1", 1000, 60), board("B2", 1000, 60))
    parts = (part("rail", 2, 600, 60), part("cleat", 2, 200, 60))
    before = solve(boards, parts, SHOP, Work(20))
    spoiled = next(p for p in before.placements if p.part == "cleat")
    states = tuple(
        replace(
            p, state="spoiled" if p == spoiled else "cut" if p.board == spoiled.board else p.state
        )
        for p in before.placements
    )
    after = solve(boards, parts, SHOP, Work(20), seed=3, keep=replace(before, placements=states))
    assert after.summary.placed == 4
    stays = {place for place in places(before) if place[:2] != (spoiled.part, spoiled.copy)}
    assert len(stays - places(after)) == 0


def test_what_was_planned_beside_what_is_cut_stays_beside_it() -> None:
    """Two rails side by side and a cleat: one rail is cut, and no other place holds its neighbour.

        0                600    804
      0 +-----------------+------+
        |   rail, cut     | cleat|
     60 +-----------------+      |
        |   rail          | gone |
    124 +-----------------+------+
    """
    boards, parts = (board("B1", 804, 124),), (part("rail", 2, 600, 60), part("cleat", 1, 200, 60))
    before = solve(boards, parts, SHOP, Work(4))
    assert before.summary.placed == 3
    cut = next(p for p in before.placements if p.part == "rail")
    states = {cut: "cut", next(p for p in before.placements if p.part == "cleat"): "spoiled"}
    lay = tuple(replace(p, state=states.get(p, "planned")) for p in before.placements)
    after = solve(boards, parts, SHOP, Work(4), seed=3, keep=replace(before, placements=lay))
    assert {p.copy: (p.state, p.locked) for p in after.placements if p.part == "rail"} == {
        cut.copy: ("cut", False), 3 - cut.copy: ("planned", False)
    }  # fmt: skip
    # What is held counts towards what is asked for: a list with one rail less has none too many.
    fewer = (replace(parts[0], quantity=1), parts[1])
    again = solve(boards, fewer, SHOP, Work(4), seed=3, keep=replace(before, placements=lay))
    assert [p.state for p in again.placements if p.part == "rail"] == ["cut"]


def test_an_answer_is_never_worth_less_than_what_still_holds_of_the_layout_before() -> None:
    """Laid by hand a hair off the rows of the search, so that both fit; on rows only one does."""
    boards, parts = (board("B1", 600, 124.3),), (part("rail", 2, 600, 60),)
    before = solve(boards, parts, SHOP, Work(20))
    assert before.summary.placed == 2
    off = tuple(replace(p, y_mm=p.y_mm + 0.27) for p in before.placements)
    knotty = (boards[0].with_flaws((flaw("F1", FlawKind.KNOT, box(0, 0, 600, 0.2)),)),)
    after = solve(knotty, parts, SHOP, Work(20), seed=3, keep=replace(before, placements=off))
    assert [p.y_mm for p in after.placements] == [p.y_mm for p in off]
    assert validate_layout(after, knotty, parts, SHOP) == ()


def test_a_new_board_takes_what_found_no_place_and_the_rest_stays() -> None:
    parts = (part("rail", 3, 600, 60),)
    boards = (board("B1", 1000, 60), board("B2", 1000, 60))
    before = solve(boards, parts, SHOP, Work(20))
    after = solve((*boards, board("B3", 650, 60)), parts, SHOP, Work(20), seed=3, keep=before)
    assert before.summary.placed == 2
    assert after.summary.placed == 3
    assert {p[2:] for p in places(before)} < {p[2:] for p in places(after)}


def test_a_deeper_end_trim_moves_only_what_lay_there() -> None:
    boards = (board("B1", 1000, 60), board("B2", 1020, 60), board("B3", 1000, 60))
    parts = (part("rail", 3, 600, 60), part("cleat", 3, 200, 60))
    before = solve(boards, parts, SHOP, Work(40))
    assert before.summary.placed == 6
    on_b1 = [p for p in before.placements if p.board == "B1"]
    first = min(p.x_mm + p.length_mm for p in on_b1)
    # So deep that the first part on the board loses its place, and the board still holds the other.
    trimmed = replace(boards[0], ends={**boards[0].ends, "A": End(True, first - 5.0)})
    after = solve((trimmed, *boards[1:]), parts, SHOP, Work(40), seed=3, keep=before)
    others = {place for place in places(before) if place[2] != "B1"}
    assert others <= places(after)
    assert after.summary.placed >= 5


@pytest.mark.parametrize(("length", "is_placed"), [(505.0, False), (560.0, True)])
def test_a_part_gives_way_only_for_a_real_gain(length: float, is_placed: bool) -> None:
    boards = (board("B1", 600, 60),)
    old, new = part("old", 1, 500, 60), part("new", 1, length, 60)
    before = solve(boards, (old,), SHOP, Work(20))
    after = solve(boards, (old, new), SHOP, Work(20), seed=3, keep=before)
    assert {p.part for p in after.placements} == ({"new"} if is_placed else {"old"})


@pytest.mark.slow
def test_a_large_lot_shows_a_layout_before_its_last_board_was_looked_at() -> None:
    boards = tuple(board(f"B{n}", 640, 60) for n in range(45))
    shown = []
    last = solve(boards, (part("rail", 60, 600, 60),), SHOP, Work(90), on_better=shown.append)
    # After twenty boards, after eighty, and after all.
    assert [layout.summary.placed for layout in shown[:2]] == [20, 45]
    assert last.summary.placed == 45
