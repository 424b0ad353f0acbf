"""Sizes that may give: no more than it takes, one size a row, equal where asked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scanner.errors import PlacementError
from scanner.placement.giving.sizes import parts_as_made, sizes_said
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import (
    SHOP,
    SLATS_THAT_GIVE,
    SLATS_THAT_NEED_NOT,
    board,
    part,
)


@pytest.mark.slow
def test_a_size_gives_no_more_than_it_takes():
    one = SLATS_THAT_GIVE
    layout = solve(one.boards, one.parts, one.shop, Work(200))
    (length,) = {p.length_mm for p in layout.placements}
    assert 295.3 <= length <= 296.0
    (said,) = sizes_said(one.parts, layout.placements, SHOP)
    assert said.startswith("slat is 29")
    assert "instead of 300" in said


def test_a_size_stays_as_wanted_where_giving_gains_nothing():
    one = SLATS_THAT_NEED_NOT
    layout = solve(one.boards, one.parts, one.shop, Work(200))
    assert {p.length_mm for p in layout.placements} == {300.0}
    assert sizes_said(one.parts, layout.placements, SHOP) == ()


@pytest.mark.slow
def test_a_size_gives_to_save_a_board():
    boards = (board("B1", 600, 60), board("B2", 600, 60))
    parts = (replace(part("slat", 2, 300, 60), length_min_mm=290.0),)
    layout = solve(boards, parts, SHOP, Work(300))
    assert layout.summary.boards_opened == 1
    assert validate_layout(layout, boards, parts, SHOP) == ()


@pytest.mark.slow
def test_rows_that_are_to_be_equal_give_together():
    boards = (board("B1", 896, 60), board("B2", 620, 60))
    parts = (
        replace(part("slat", 3, 300, 60), length_min_mm=280.0, equal="slats"),
        replace(part("top slat", 2, 300, 60), length_min_mm=280.0, equal="slats"),
    )
    layout = solve(boards, parts, SHOP, Work(300))
    assert layout.summary.placed == 5
    assert len({p.length_mm for p in layout.placements}) == 1
    assert validate_layout(layout, boards, parts, SHOP) == ()


@pytest.mark.slow
def test_the_validator_condemns_two_sizes_in_one_row():
    one = SLATS_THAT_GIVE
    layout = solve(one.boards, one.parts, one.shop, Work(200))
    a, *rest = layout.placements
    short = replace(layout, placements=(replace(a, length_mm=a.length_mm - 2), *rest))
    said = validate_layout(short, one.boards, one.parts, SHOP)
    assert any("not of one length" in str(o) for o in said)
    tiny = replace(layout, placements=(replace(a, length_mm=270.0), *rest))
    said = validate_layout(tiny, one.boards, one.parts, SHOP)
    assert any("270.0 mm long when finished, not 280.0 to 300.0" in str(o) for o in said)


@pytest.mark.slow
def test_what_is_cut_settles_the_size_of_the_rest():
    one = SLATS_THAT_GIVE
    layout = solve(one.boards, one.parts, one.shop, Work(200))
    cut = replace(layout, placements=(replace(layout.placements[0], state="cut"),))
    boards = (*one.boards, board("B2", 1000, 60))
    again = solve(boards, one.parts, SHOP, Work(200), keep=cut)
    assert len({p.length_mm for p in again.placements}) == 1
    assert again.summary.placed == 3


@pytest.mark.slow
def test_sheets_name_the_size_that_is_made():
    one = SLATS_THAT_GIVE
    layout = solve(one.boards, one.parts, one.shop, Work(200))
    (made,) = parts_as_made(one.parts, layout.placements, SHOP)
    assert made.length_mm == pytest.approx(layout.placements[0].length_mm)


def test_rows_without_a_common_size_are_refused():
    parts = (
        replace(part("a", 1, 300, 60), length_min_mm=290.0, equal="x"),
        replace(part("b", 1, 200, 60), equal="x"),
    )
    with pytest.raises(PlacementError, match="no length suits them all"):
        solve((board("B1", 900, 60),), parts, SHOP, Work(5))
