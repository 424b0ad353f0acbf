"""Bookmatched sets: slices of one blank that is thick enough, else side by side, and said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scanner.board.measured import Measured
from scanner.files.layout_file import layout_json, read_layout
from scanner.placement.ground.resaw import thickness_needed_mm
from scanner.placement.laid.kept import kept_placements
from scanner.placement.said.reasons_sets import bookmatches_said
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, part


def doors(thick: float, copies: int = 2, length: float = 590, width: float = 60):
    one = part("door", copies, length, width)
    return replace(one, thickness_mm=thick, match="doors:bookmatch")


def laid(boards, parts, shop=SHOP, keep=None):
    layout = solve(boards, parts, shop, Work(20), keep=keep)
    assert validate_layout(layout, boards, parts, shop) == ()
    return layout


def test_an_inch_gives_two_slices_of_three_eighths_before_the_kerf():
    """A magazine on resawing: 1/8 in to flatten each slice, so 1 in gives two of 3/8."""
    no_kerf = replace(Shop(), kerf_mm=0.0)
    assert thickness_needed_mm(3 / 8 * 25.4, 2, no_kerf) == pytest.approx(25.4, abs=0.1)


def test_two_slices_lie_one_below_the_other_in_one_blank():
    """27 mm: two of 8, 3.2 each for their faces, and a kerf of 4 are 26.4."""
    parts = (doors(8.0),)
    layout = laid((board("B1", 600, 64),), parts)
    assert [(p.copy, p.layer) for p in layout.placements] == [(1, 1), (2, 2)]
    assert len({(p.x_mm, p.y_mm) for p in layout.placements}) == 1
    assert [cut.kind for cut in layout.cuts] == ["crosscut", "rip"]
    assert layout.pieces[0].placements == (0, 1)
    assert layout.summary.yield_share == pytest.approx(590 * 60 / (600 * 64))
    (said,) = bookmatches_said(parts, layout.placements, SHOP)
    assert said.startswith("The set doors is bookmatched: resaw each blank into 2 slices")


def test_a_board_too_thin_to_resaw_gives_them_side_by_side_and_that_is_said():
    """Two of 9: 28.4 mm of 27."""
    parts = (doors(9.0),)
    assert laid((board("B1", 600, 64),), parts).placements == ()
    layout = laid((board("B1", 600, 130),), parts)
    assert [p.layer for p in layout.placements] == [None, None]
    (said,) = bookmatches_said(parts, layout.placements, SHOP)
    assert said.startswith("The set doors is not bookmatched: no board with room is 28 mm thick")


def test_a_thick_board_is_chosen_before_a_thin_one_with_more_room():
    thick = replace(board("B2", 600, 64), thickness=Measured(52.0, 0.0))
    layout = laid((board("B1", 2000, 200), thick), (doors(20.0),))
    assert {p.board for p in layout.placements} == {"B2"}


def test_four_doors_are_two_blanks_beside_each_other():
    layout = laid((board("B1", 600, 130),), (doors(8.0, 4),))
    assert [p.layer for p in layout.placements] == [1, 2, 1, 2]
    assert len({p.y_mm for p in layout.placements}) == 2
    assert layout.summary.placed == 4


def test_a_part_of_its_own_lies_beside_the_blank_not_in_it():
    layout = laid((board("B1", 600, 130),), (doors(8.0), part("rail", 1, 590, 60)))
    assert layout.summary.placed == 3


@pytest.mark.slow
def test_a_cut_slice_keeps_its_place_and_the_layout_file_its_layer(tmp_path):
    boards, parts = (board("B1", 600, 64),), (doors(8.0),)
    path = tmp_path / "layout.json"
    path.write_text(layout_json(laid(boards, parts)))
    layout = read_layout(path)
    assert [p.layer for p in layout.placements] == [1, 2]
    cut = replace(layout, placements=tuple(replace(p, state="cut") for p in layout.placements))
    again = laid(boards, parts, keep=cut)
    assert again.placements == cut.placements
    planned = laid(boards, parts, keep=layout)
    assert planned.placements == layout.placements


@pytest.mark.slow
@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("what", [{"locked": True}, {"state": "cut"}])
def test_of_a_blank_of_which_one_slice_is_to_stay_all_slices_stay(number, what):
    boards, parts = (board("B1", 600, 64), board("B2", 600, 64)), (doors(8.0),)
    layout = laid(boards, parts)
    slices = list(layout.placements)
    slices[number] = replace(slices[number], **what)
    again = laid(boards, parts, keep=replace(layout, placements=tuple(slices)))
    assert set(again.placements) == set(slices)


def test_a_spoiled_slice_does_not_stay_with_its_blank():
    layout = laid((board("B1", 600, 64),), (doors(8.0),))
    one, two = layout.placements
    kept = replace(layout, placements=(replace(one, state="spoiled"), replace(two, locked=True)))
    assert kept_placements(kept, (board("B1", 600, 64),), (doors(8.0),)) == (kept.placements[1],)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda p: replace(p, layer=None), "some of its members are slices and some are not"),
        (lambda p: replace(p, layer=3), "not numbered from 1 on"),
        (lambda p: replace(p, x_mm=p.x_mm + 2), "overlap or leave less than a kerf"),
    ],
)
def test_the_validator_condemns_false_slices(change, said):
    boards, parts = (board("B1", 610, 64),), (doors(8.0),)
    layout = laid(boards, parts)
    first, second = layout.placements
    wrong = replace(layout, placements=(first, change(second)))
    assert any(said in str(o) for o in validate_layout(wrong, boards, parts, SHOP))


def test_the_validator_condemns_slices_of_a_board_too_thin_and_of_other_parts():
    boards, parts = (board("B1", 600, 64),), (doors(8.0),)
    layout = laid(boards, parts)
    said = validate_layout(layout, boards, (doors(9.0),), SHOP)
    assert any("2 slices need 28.4 mm, B1 has 27.0 mm" in str(o) for o in said)
    said = validate_layout(layout, boards, (replace(doors(8.0), match=None),), SHOP)
    assert any("is a slice, which it does not ask for" in str(o) for o in said)
