"""The grade estimate against worked boards.

G-1 and G-2 are boards of a published question on a forestry forum (NHLA 2007 par. 37), its trap
named beside G-2; the others were worked by hand from the rules (NHLA 2007, 2019) and distributors'
summary charts. Thickness plays no part in the grade (AHEC guide).
"""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from scanner.board.board import Board, Face, Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.lot.cutting_tables import fill_tables
from scanner.lot.cuttings import Rectangle, best_cuttings
from scanner.lot.grade import estimate_grade
from scanner.lot.grade_face import graded_face
from scanner.lot.grade_rules import COMMON_1, COMMON_2A, FAS, Grade
from scanner.lot.grade_yield import wane_limit_of_one_face, yield_of

IN = 25.4


def board_of(width_in, length_ft, flaws=()):
    """A 4/4 board, both faces alike in outline; flaws as (kind, box in inches, faces)."""
    length, width = length_ft * 12 * IN, width_in * IN
    face = Face(box(0, 0, length, width), looked_over=True)
    found = tuple(
        Flaw(
            f"F{n}",
            kind,
            {face: box(*(side * IN for side in sides)) for face in faces},
            is_through=len(faces) == 2,
            state=FlawState.ADDED,
        )
        for n, (kind, sides, faces) in enumerate(flaws, 1)
    )
    stations = tuple(Station(length * s, Measured(width, 1)) for s in (0.1, 0.3, 0.5, 0.7, 0.9))
    return Board(
        "B01",
        "white ash",
        Measured(27, 1),
        Measured(length, 1),
        stations,
        {1: face, 2: face},
        found,
    )


def band(x0, x1, width_in, kind=FlawKind.MARKED, faces=(1, 2)):
    """Bad wood right across the board, for instance the grain round a knot."""
    return (kind, (x0, 0, x1, width_in), faces)


def knot(x0, size):
    """A knot that comes through."""
    return (FlawKind.KNOT, (x0, 1, x0 + size, 1 + size), (1, 2))


def _along(kind, x0, x1):
    """A flaw along the lower edge of an 8 in board, half an inch wide, on face 1."""
    return (kind, (x0, 7.5, x1, 8), (1,))


STAIN = FlawKind.STAIN  # spoils a clear face, leaves the reverse sound
CASES = {
    "G-1": (board_of(8, 8), Grade.FAS, 5, [64.0, 64.0]),
    "G-2": (board_of(8, 8, [band(12, 17, 8), knot(12, 5)]), Grade.COMMON_1, 5, [52.67, 52.67]),
    "G-3": (board_of(8, 12, [band(70, 74, 8), knot(71, 2)]), Grade.FAS, 8, [93.33, 93.33]),
    "G-4": (board_of(6, 12, [band(24, 26, 6), knot(24.25, 1.5)]), Grade.FAS, 6, [71.0, 71.0]),
    "G-5": (board_of(7, 8, [band(26, 32, 7), band(62, 68, 7)]), Grade.COMMON_1, 5, [49.0, 49.0]),
    "G-6": (board_of(6, 8, [band(30, 60, 6), band(84, 96, 6)]), Grade.COMMON_2A, 4, [27.0, 27.0]),
    "G-7": (board_of(5, 8, [band(60, 96, 5, STAIN, (2,))]), Grade.SELECTS, 3, [40.0, 25.0]),
    "G-8": (board_of(8, 12, [band(36, 108, 8, STAIN, (2,))]), Grade.COMMON_2A, 8, [96.0, 48.0]),
}


@pytest.mark.parametrize("case", sorted(CASES))
def test_a_worked_board_gets_its_grade(case):
    board, grade, measure, units = CASES[case]
    estimate = estimate_grade(board)
    assert estimate.grade is grade
    assert estimate.surface_measure == measure
    assert [estimate.faces[face].found for face in (1, 2)] == pytest.approx(units, abs=0.01)


def test_units_needed_come_from_the_rounded_surface_measure():
    # G-2's trap: 8 x 8 ft is 64 / 12; the raw product would ask 42.67 units and refuse 42.
    assert COMMON_1.trials(5)[0] == (2, 40)


def test_the_number_of_cuttings_is_the_published_table():
    # Surface measure 4 to 16 for FAS, 2 to 16 for the commons (calc from the formulas, exact).
    assert [FAS.trials(m)[0][0] for m in range(4, 17)] == [1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4]
    ones = [COMMON_1.trials(m)[0][0] for m in range(1, 17)]
    assert ones == [1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5]
    twos = [COMMON_2A.trials(m)[0][0] for m in range(1, 17)]
    assert twos == [1, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 7]


def test_a_long_piece_may_take_a_cutting_more_for_each_further_four_feet():
    # NHLA 2015, page 22: FAS, F1F, Selects and No. 1 Common, over 17 ft and over 16 ft of surface
    # measure; never more than 7 cuttings, and the units needed stay.
    def counts(rule, length_ft):
        return [rule.trials(m, length_ft)[0][0] for m in (16, 19, 20, 23, 24, 27, 28, 32)]

    assert counts(FAS, 18) == [4, 4, 5, 5, 6, 6, 7, 7]
    assert counts(COMMON_1, 18) == [5, 5, 6, 6, 7, 7, 7, 7]
    assert counts(FAS, 17.9) == [4] * 8, "fractions of a foot do not count"
    assert counts(COMMON_1, 17) == [5] * 8
    assert counts(COMMON_2A, 18) == [7] * 8
    assert FAS.trials(20, 18) == ((5, 200),)
    assert COMMON_1.trials(20, 18) == ((6, 160),)
    assert FAS.trials(8, 18) == FAS.trials(8), "a long, narrow piece is as any other"


def test_a_long_piece_is_fas_by_its_fifth_cutting():
    # 14 in x 18 ft, surface measure 21: 210 units needed. By hand: two pairs of 6 1/2 in by 71 and
    # 70 in, and 14 in by 71 in: 235.58 in five cuttings, 197.67 in the best four.
    spots = [(0, 6.5, 144, 7.5), (71, 0, 73, 14), (143, 0, 145, 14)]
    board = board_of(14, 18, [(FlawKind.MARKED, spot, (1, 2)) for spot in spots])
    estimate = estimate_grade(board)
    assert estimate.surface_measure == 21
    assert estimate.grade is Grade.FAS
    assert estimate.faces[1].found == pytest.approx(235.58, abs=0.01)
    units = sorted(cutting.units for cutting in estimate.faces[1].plan.cuttings)
    assert len(units) == 5
    assert sum(units[1:]) == pytest.approx(197.67, abs=0.01)


def test_a_better_grade_that_was_missed_is_explained():
    estimate = estimate_grade(CASES["G-8"][0])
    assert estimate.reasons[0] == "FAS: face 2: 48.0 of 93.1 cutting units"
    assert any(line.startswith("No. 1 Common: face 2: 48.0 of ") for line in estimate.reasons)


def _limit(board, rule=FAS, face=1):
    """What keeps a face out of a grade whose units it has (surface measure 8)."""
    result = yield_of(rule, board, face, graded_face(board, face), 8)
    assert result.is_enough
    return result.limit


# 8 in x 12 ft, surface measure 8: FAS allows 8 in of pith, 72 in of wane, 16 in of splits, knots of
# 2 2/3 in and a first foot half clear (a distributor's chart; NHLA pars. 57, 59, 72).
@pytest.mark.parametrize(
    ("limit", "within", "over"),
    [
        ("pith", _along(FlawKind.PITH, 60, 68), _along(FlawKind.PITH, 60, 69)),
        ("wane", _along(FlawKind.WANE, 0, 72), _along(FlawKind.WANE, 0, 73)),
        ("splits", _along(FlawKind.SPLIT, 128, 144), _along(FlawKind.SPLIT, 127, 144)),
        ("a knot or hole", knot(70, 2.6), knot(70, 2.7)),
        ("a first foot less than half clear", band(0, 12, 3.9, STAIN), band(0, 12, 4.1, STAIN)),
    ],
)
def test_what_is_over_a_limit_of_fas_keeps_a_board_out(limit, within, over):
    assert _limit(board_of(8, 12, [within])) == ""
    assert _limit(board_of(8, 12, [over])) == limit


def test_pith_over_more_than_half_the_length_keeps_a_board_out_of_no_1_common():
    # NHLA par. 72.
    short, long = (board_of(8, 12, [_along(FlawKind.PITH, 10, x)]) for x in (82, 83))
    assert (_limit(short, COMMON_1), _limit(long, COMMON_1)) == ("", "pith")


def test_wane_over_a_third_of_the_width_is_too_much_for_the_poor_side_of_one_face():
    # NHLA par. 64: both edges' wane added, a third of 8 in.
    def waney(wide):
        return board_of(8, 12, [(FlawKind.WANE, (80, 0, 144, wide), (2,))])

    assert wane_limit_of_one_face(waney(2.6), 2) == ""
    assert wane_limit_of_one_face(waney(2.7), 2) == "wane"


def test_a_struck_flaw_does_not_count():
    board = CASES["G-6"][0]
    struck = tuple(
        Flaw(f.id, f.kind, f.outlines, state=FlawState.STRUCK, is_through=True) for f in board.flaws
    )
    assert estimate_grade(board).grade is Grade.COMMON_2A
    # 6 in x 8 ft, clear: surface measure 4, 48 units in one cutting.
    assert estimate_grade(board.with_flaws(struck)).grade is Grade.FAS


def test_a_board_under_four_feet_has_no_grade():
    assert estimate_grade(board_of(6, 3.5)).grade is Grade.BELOW


def test_wood_outside_a_waney_outline_yields_nothing():
    board = board_of(8, 8)
    narrow = Face(
        box(0, 0, 48 * IN, 8 * IN).union(box(48 * IN, 0, 96 * IN, 4 * IN)), looked_over=True
    )
    tapered = Board(
        "B01", "white ash", board.thickness, board.length, board.widths, {1: narrow, 2: narrow}
    )
    # Two cuttings of No. 1 Common: 8 in x 4 ft and 4 in x 4 ft.
    result = estimate_grade(tapered, surface_measure=5)
    assert result.grade is Grade.COMMON_1
    assert result.faces[1].found == pytest.approx(48.0, abs=0.6)


def test_two_cuttings_beside_each_other_beat_one():
    # A knot in the upper half: below it runs the full length, beside it the full height.
    knot = [Rectangle(4.0, 0.0, 5.0, 4.0)]
    one = best_cuttings((8, 8), knot, ((3, 2),), 1)
    two = best_cuttings((8, 8), knot, ((3, 2),), 2)
    three = best_cuttings((8, 8), knot, ((3, 2),), 3)
    assert (one.units, two.units, three.units) == pytest.approx((32, 56, 60))
    for plan in (one, two, three):
        assert plan.units == pytest.approx(sum(c.units for c in plan.cuttings))


def _clear(rectangle, bad):
    x0, x1, y0, y1 = rectangle
    return not any(
        x0 < b.x1_ft - 1e-9 and x1 > b.x0_ft + 1e-9 and y0 < b.y1_in - 1e-9 and y1 > b.y0_in + 1e-9
        for b in bad
    )


@pytest.mark.slow
@given(
    st.lists(
        st.tuples(st.integers(0, 9), st.integers(1, 2), st.integers(0, 6), st.integers(1, 3)),
        max_size=3,
    )
)
@settings(max_examples=25, deadline=None)
def test_two_cuttings_are_the_best_pair_that_brute_force_finds(spots):
    # Every pair of clear rectangles on whole feet and inches; the least size is 2 in x 2 ft.
    bad = [Rectangle(x, y, min(x + w, 10), min(y + h, 7)) for x, w, y, h in spots]
    free = [
        (x0, x1, y0, y1)
        for x0, x1 in combinations(range(11), 2)
        for y0, y1 in combinations(range(8), 2)
        if x1 - x0 >= 2 and y1 - y0 >= 2 and _clear((x0, x1, y0, y1), bad)
    ]
    area = np.array([(x1 - x0) * (y1 - y0) for x0, x1, y0, y1 in free], dtype=float)
    best = 0.0
    corners = np.array(free, dtype=float).reshape(-1, 4)
    for index, (x0, x1, y0, y1) in enumerate(free):
        apart = (
            (corners[:, 0] >= x1)
            | (corners[:, 1] <= x0)
            | (corners[:, 2] >= y1)
            | (corners[:, 3] <= y0)
        )
        best = max(best, area[index] + area[apart].max(initial=0.0))
    assert best_cuttings((10, 7), bad, ((2, 2),), 2).units == pytest.approx(best)


def test_the_loop_as_it_is_written_and_as_it_is_compiled_say_the_same():
    # 4 ft x 6 in, a spot from 1 to 2 ft and 2 to 4 in; a cutting is 2 in x 1 ft at least. By hand:
    # the one largest is 2 ft x 6 in past the spot, two are that and 1 ft x 6 in before it, three
    # and four add 1 ft x 2 in over and under the spot.
    xs, ys = np.array([0.0, 1.0, 2.0, 4.0]), np.array([0.0, 2.0, 4.0, 6.0])
    covered = np.zeros((4, 4), dtype=np.int64)
    covered[2, 2] = 1
    least = np.array([[2.0, 1.0]])
    told = (xs, ys, covered.cumsum(0).cumsum(1), least, 4)
    best, how = fill_tables.py_func(*told)
    assert best[0, 3, 0, 3].tolist() == [0.0, 12.0, 18.0, 20.0, 22.0]
    compiled_best, compiled_how = fill_tables(*told)
    assert np.array_equal(best, compiled_best) and np.array_equal(how, compiled_how)
