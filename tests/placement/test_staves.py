"""Panels glued up from staves: widths that add up, one board, all or none."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.flaw import FlawKind
from scanner.files.layout_file import layout_json, read_layout
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.staves import choices_of, stave_width_mm, staves_said
from tests.instances.tiny import SHOP, board, flaw, part


def top(staves: str = "auto", copies: int = 1, **more):
    return replace(part("top", copies, 800, 400), staves=staves, **more)


def laid(boards, parts, shop=SHOP, keep=None):
    layout = solve(boards, parts, shop, Work(20), keep=keep)
    assert validate_layout(layout, boards, parts, shop) == ()
    return layout


def test_staves_add_up_to_the_panel_and_what_the_jointer_takes():
    """400 and 12 mm to trim make 412; four staves of 103, and 6 mm each for two jointed edges."""
    shop = Shop(width_allowance_mm=12.0)
    assert stave_width_mm(top(), 4, shop) == pytest.approx(412 / 4 + 6)
    inch = Shop.inch()
    panel = replace(top(), width_mm=16 * 25.4)
    assert stave_width_mm(panel, 4, inch) == pytest.approx((16.5 / 4 + 0.25) * 25.4)


def test_auto_offers_one_board_and_then_staves_that_the_jointer_takes():
    # 400 / 2 + 6 = 206 and 400 / 3 + 6 = 139.3: the first that a 150 mm jointer takes are three.
    assert choices_of(top(), SHOP) == (1, 3, 4, 5, 6)
    assert choices_of(top("3"), SHOP) == (3,)
    assert choices_of(replace(top(), filler=True), SHOP) == (1,)


def test_a_board_as_wide_as_the_panel_gives_it_in_one():
    layout = laid((board("B1", 900, 420),), (top(),))
    assert [p.stave for p in layout.placements] == [None]
    assert layout.summary.placed == 1


def test_the_fewest_staves_that_the_board_holds():
    """110 mm wide: three of 139.3 do not go, four of 106 and three kerfs are 3212 of 3300 mm."""
    layout = laid((board("B1", 3300, 110),), (top(),))
    assert [(p.copy, p.stave, p.width_mm) for p in layout.placements] == [
        (1, n, pytest.approx(106.0)) for n in (1, 2, 3, 4)
    ]
    assert layout.summary.placed == layout.summary.asked == 1
    assert layout.summary.yield_share == pytest.approx(800 * 400 / (3300 * 110))
    (said,) = staves_said(layout.placements, (top(),), SHOP)
    assert said == (
        "top is glued up from 4 staves of B1, 106 mm wide rough: jointed (6 mm each) they make "
        "400 mm, to be trimmed to 400 mm."
    )


def test_staves_of_one_panel_never_come_from_two_boards():
    """Two staves to a board: each board holds half a panel, and half a panel is none."""
    boards = (board("B1", 1700, 110), board("B2", 1700, 110))
    layout = laid(boards, (top("4"),))
    assert layout.placements == ()
    (unplaced,) = layout.unplaced
    assert unplaced.reason == (
        "no board holds all its staves (4 of 106 mm, 800 mm long), and they come from one board"
    )
    assert unplaced.nearest == "B1 holds 2 of 4 staves in one place"


def test_staves_lie_where_the_board_is_clear_when_no_one_place_holds_them():
    knot = flaw("F1", FlawKind.KNOT, box(1650, 0, 1700, 110))
    layout = laid((board("B1", 3360, 110, knot),), (top("4"),))
    assert [p.x_mm < 1650 for p in layout.placements] == [True, True, False, False]


def test_each_of_two_panels_is_whole_on_its_board():
    boards = (board("B1", 3300, 110), board("B2", 3300, 110))
    layout = laid(boards, (top("4", copies=2),))
    assert {(p.copy, p.board) for p in layout.placements} in (
        {(1, "B1"), (2, "B2")},
        {(1, "B2"), (2, "B1")},
    )
    assert layout.summary.placed == 2


def test_a_panel_counts_no_more_than_a_part_of_its_size():
    """One board, room for the panel or for a shelf worth twice as much: the shelf is laid."""
    shelf = replace(part("shelf", 1, 3000, 106), priority=3.0)
    layout = laid((board("B1", 3300, 110),), (top("4"), shelf))
    assert {p.part for p in layout.placements} == {"shelf"}


@pytest.mark.slow
def test_cut_staves_stay_and_a_spoiled_one_is_asked_for_again():
    boards = (board("B1", 4200, 110),)
    parts = (top("4"),)
    first = laid(boards, parts)
    states = ("cut", "cut", "spoiled", "planned")
    told = replace(
        first,
        placements=tuple(
            replace(p, state=state) for p, state in zip(first.placements, states, strict=True)
        ),
    )
    again = laid(boards, parts, keep=told)
    cut = [p for p in again.placements if p.state == "cut"]
    assert cut == [p for p in told.placements if p.state == "cut"]
    assert sorted(p.stave or 0 for p in again.placements) == [1, 2, 3, 4]
    assert again.summary.placed == 1


def test_a_layout_file_keeps_which_stave_is_which(tmp_path):
    layout = laid((board("B1", 3300, 110),), (top("4"),))
    path = tmp_path / "layout.json"
    path.write_text(layout_json(layout))
    again = read_layout(path)
    assert [p.stave for p in again.placements] == [1, 2, 3, 4]
    assert '"stave"' not in layout_json(laid((board("B1", 900, 420),), (top(),)))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda p: replace(p, width_mm=100.0), "its staves make"),
        (lambda p: replace(p, stave=3), "placed 2 times"),
        (lambda p: replace(p, stave=5), "its staves are numbered"),
        (lambda p: replace(p, stave=None), "whole and glued up at once"),
    ],
)
def test_the_validator_condemns_a_false_panel(change, said):
    boards, parts = (board("B1", 3300, 110),), (top("4"),)
    layout = laid(boards, parts)
    *rest, last = layout.placements
    wrong = replace(layout, placements=(*rest, change(last)))
    assert any(said in str(o) for o in validate_layout(wrong, boards, parts, SHOP))


def test_the_validator_condemns_staves_that_nobody_asked_for():
    boards = (board("B1", 3300, 110),)
    layout = laid(boards, (top("4"),))
    said = validate_layout(layout, boards, (top("1"),), SHOP)
    assert any("which was not asked for" in str(o) for o in said)


@pytest.mark.slow
def test_no_layout_with_another_number_of_staves_beats_the_bound():
    """The bound holds for every number of staves, not only for the one that was chosen."""
    boards = (board("B1", 2600, 140), board("B2", 3300, 110))
    open_bound = laid(boards, (top("auto", copies=2),)).bound
    for count in ("3", "4", "5", "6"):
        layout = laid(boards, (top(count, copies=2),))
        if open_bound.of == "value":
            assert layout.summary.placed * 800 * 400 <= open_bound.value * (1 + 1e-9)
        elif layout.summary.placed == 2:
            assert layout.summary.area_opened_mm2 >= open_bound.value * (1 - 1e-9)
