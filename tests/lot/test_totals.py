"""What a lot and a layout come to."""

from dataclasses import replace
from fractions import Fraction

import pytest

from scanner.board.flaw import FlawKind, FlawState
from scanner.lot.totals import (
    board_feet_of,
    board_lines,
    board_totals,
    flaw_title,
    flaws_text,
    layout_lines,
    layout_totals,
    looked_over_text,
)
from tests.common import ash_board, plain_board, small_layout, walnut_board


def test_exact_halves_take_turns_across_the_lot():
    # Nine inches by six feet is 4.5 square feet: 5, 4, 5 (NHLA).
    lot = [plain_board(f"P{n}", 6 * 304.8, 9 * 25.4, 25.4) for n in range(3)]
    totals = board_totals(lot)
    assert [board.surface_measure for board in totals] == [5, 4, 5]
    assert board_feet_of(totals) == 14


def test_a_board_is_told_in_a_few_lines():
    (ash,) = board_totals([ash_board()])
    assert board_lines(ash) == (
        "B01  white ash, 4/4 (27.0 ± 1.0 mm), NOT LOOKED OVER",
        "length 2457 ± 3 mm, width 179.9 ± 1.0 mm (171 to 186), 5 board feet",
        "face 1: 1 check, 1 knot, 1 stain (possible flaws)",
        "face 2: 2 knots, 1 check, 1 wane (possible flaws)",
    )


def test_what_a_person_typed_or_confirmed_is_no_possible_flaw():
    board = ash_board()
    typed = tuple(replace(flaw, state=FlawState.ADDED) for flaw in board.flaws)
    (ash,) = board_totals([board.with_flaws(typed)])
    assert board_lines(ash)[2:] == (
        "face 1: 1 check, 1 knot, 1 stain",
        "face 2: 2 knots, 1 check, 1 wane",
    )
    on_face_2 = next(n for n, flaw in enumerate(board.flaws) if set(flaw.outlines) == {2})
    one_left = (*typed[:on_face_2], board.flaws[on_face_2], *typed[on_face_2 + 1 :])
    (ash,) = board_totals([board.with_flaws(one_left)])
    assert board_lines(ash)[2:] == (
        "face 1: 1 check, 1 knot, 1 stain",
        "face 2: 2 knots, 1 check, 1 wane (1 of them possible)",
    )


def test_the_same_board_in_inches():
    (ash,) = board_totals([ash_board()])
    assert board_lines(ash, "inch")[1] == (
        "length 96 3/4 in ± 1/8 in, width 7 1/16 in ± 1/16 in (6 3/4 to 7 5/16 in), 5 board feet"
    )


def test_struck_flaws_are_not_counted():
    (walnut,) = board_totals([walnut_board()])
    assert FlawKind.STAIN not in walnut.flaws[2]
    assert looked_over_text(walnut) == "looked over"


def test_a_board_with_one_face_looked_over_says_which_is_not():
    board = ash_board()
    faces = {1: replace(board.faces[1], looked_over=True), 2: board.faces[2]}
    (totals,) = board_totals([replace(board, faces=faces)])
    assert looked_over_text(totals) == "face 2 NOT LOOKED OVER"


def test_nothing_found_is_said_as_that_and_nothing_more():
    assert flaws_text({}) == "nothing found"
    assert flaws_text({FlawKind.KNOT: 2, FlawKind.MARKED: 1}) == "2 knots, 1 mark of yours"
    (plain,) = board_totals([plain_board()])
    assert not any("clear" in line for line in board_lines(plain))


def test_a_possible_flaw_carries_a_question_mark():
    flaw = ash_board().flaws[0]
    assert flaw_title(flaw) == "F1 knot?"
    assert flaw_title(replace(flaw, state=FlawState.CONFIRMED, sound=True)) == "F1 sound knot"


def test_yield_and_waste_are_the_whole():
    totals = layout_totals(small_layout())
    assert totals.yield_share + totals.waste_share == pytest.approx(1)


def test_a_layout_says_what_is_missing_and_who_did_not_look():
    lines = layout_lines(layout_totals(small_layout()))
    assert lines[0] == "placed 8 of 9 parts on 2 boards"
    assert lines[1] == "yield 43 %, waste 57 %, 11.25 board feet used"
    assert lines[2].startswith("not placed: 1 × seat slat: no place 1025 × 82 mm")
    assert lines[3].startswith("NOT LOOKED OVER: B01. Possible flaws that nobody looked at")
    assert "not a promise of clear wood" in lines[4]


def test_no_board_opened_is_said_without_a_yield():
    layout = small_layout()
    summary = replace(layout.summary, placed=0, boards_opened=0, board_feet=0.0, yield_share=0.0)
    nothing = layout_lines(layout_totals(replace(layout, placements=(), summary=summary)))
    assert nothing[0] == "placed 0 of 9 parts: no board was opened"
    assert not any("waste" in line or "yield" in line for line in nothing)


def test_board_feet_are_exact_until_they_are_printed():
    (walnut,) = board_totals([walnut_board()])
    assert walnut.board_feet == Fraction(25, 4)


def test_a_face_that_nobody_photographed_is_not_said_to_have_nothing():
    board = ash_board()
    faces = {1: replace(board.faces[1], photos=("a.jpg",)), 2: replace(board.faces[2], photos=())}
    (totals,) = board_totals([replace(board, faces=faces, flaws=())])
    lines = board_lines(totals)
    assert lines[2] == "face 1: nothing found"
    assert lines[3] == "face 2: not photographed"


def test_one_doubtful_place_is_not_told_of_the_whole_width():
    ash = ash_board()
    first, *rest = ash.widths
    doubtful = replace(first, width=replace(first.width, u_mm=11.0))
    (totals,) = board_totals([replace(ash, widths=(doubtful, *rest))])
    assert totals.width.u_mm == pytest.approx((11.0 + sum(w.width.u_mm for w in rest)) / 5)


def test_wood_that_was_spoiled_is_called_so_and_is_no_mark_of_yours():
    flaw = replace(ash_board().flaws[0], kind=FlawKind.MARKED, state=FlawState.ADDED)
    assert flaw_title(flaw) == "F1 your mark"
    assert flaw_title(replace(flaw, id="spoiled 1")) == "spoiled"
