"""Board feet and surface measure against published examples.

SM cases: NHLA rules (2019, par. 16) and the examples of AHEC's guide to grading sawn lumber, the
NHLA/AHEC illustrated guide and dealers' worked examples; V cases: a magazine's tip, shops' pages,
an old lumber table and a navy builder manual.
"""

from fractions import Fraction

import pytest

from scanner.board.volume import (
    Tally,
    board_feet,
    lot_board_feet,
    quarters_of,
    raw_surface_measure,
    sawn_width_mm,
    whole_feet,
)
from scanner.units import inches_from_mm, mm_from_inches

F = Fraction


@pytest.mark.parametrize(
    ("case", "quarters", "width_in", "length_in", "raw", "sm", "bf"),
    [
        ("SM-1", 8, F(25, 4), 96, F(25, 6), 4, 8),
        ("SM-2", 4, F(13, 2), 96, F(13, 3), 4, 4),
        ("SM-3", 4, F(8), 144, F(8), 8, 8),
        ("SM-4", 4, F(10), 156, F(65, 6), 11, 11),
        ("SM-5", 4, F(103, 16), 129, F(515, 96), 5, 5),
        ("SM-8", 5, F(29, 4), 139, F(319, 48), 7, F(35, 4)),
        ("SM-9", 3, F(5), 108, F(15, 4), 4, 4),
    ],
)
def test_a_board_tallies_as_published(case, quarters, width_in, length_in, raw, sm, bf):
    assert raw_surface_measure(width_in, length_in) == raw
    assert Tally().surface_measure(width_in, length_in) == sm
    assert board_feet([sm], quarters) == bf


def test_odd_inches_of_length_do_not_count():
    # SM-5's trap: 10.75 ft would give 5.767 and so 6.
    assert Tally().surface_measure(F(103, 16), 129) == Tally().surface_measure(F(103, 16), 120)


def test_exact_halves_go_up_then_down_then_up():
    # SM-6 and SM-7: the rule of exact halves as told by an extension specialist.
    pair, three = Tally(), Tally()
    assert [pair.surface_measure(F(17, 2), 144) for _ in range(2)] == [9, 8]
    assert [three.surface_measure(9, 72) for _ in range(3)] == [5, 4, 5]


def test_a_lot_adds_surface_measures_before_it_multiplies():
    # SM-10: five boards, all as 5/4.
    tally = Tally()
    sizes = [(F(25, 4), 96), (F(8), 144), (F(10), 156), (F(103, 16), 129), (F(29, 4), 139)]
    measures = [tally.surface_measure(*size) for size in sizes]
    assert measures == [4, 8, 11, 5, 7]
    total = lot_board_feet((5, measure) for measure in measures)
    assert total == F(175, 4)
    assert round(total) == 44


def test_a_lot_of_two_thicknesses_is_added_by_class():
    assert lot_board_feet([(4, 5), (8, 5), (4, 3)]) == 8 + 10
    assert lot_board_feet([]) == 0


@pytest.mark.parametrize(
    ("thickness_in", "quarters"),
    [(1.0, 4), (1.0625, 4), (15 / 16, 4), (0.9, 3), (1.25, 5), (1.3, 5), (2.0, 8), (3.0, 12)],
)
def test_a_kiln_dried_board_a_sixteenth_scant_keeps_its_class(thickness_in, quarters):
    # NHLA 2019 par. 9.
    assert quarters_of(thickness_in * 25.4) == quarters


def test_a_tapering_board_counts_with_its_mean_width():
    assert sawn_width_mm([180.0, 190.0, 200.0]) == pytest.approx(190.0)
    with pytest.raises(ValueError):
        sawn_width_mm([])


def test_eight_feet_in_millimetres_are_eight_feet():
    # 2438.4 mm / 25.4 is a hair under 96 in binary arithmetic.
    assert raw_surface_measure(6, 2438.4 / 25.4) == F(4)


@pytest.mark.parametrize("sixteenths", [104, 120, 136, 90, 102])  # 6 1/2 in and so on
def test_an_exact_half_stays_one_when_a_file_rounds_its_millimetres(sixteenths):
    """R4; a surface measure that was a half by a hair went up each time."""
    length_in = next(
        12 * feet
        for feet in range(4, 17)
        if raw_surface_measure(F(sixteenths, 16), 12 * feet) % 1 == F(1, 2)
    )
    width = inches_from_mm(round(mm_from_inches(sixteenths / 16), 2))
    tally = Tally()
    first, second = (tally.surface_measure(width, length_in) for _ in range(2))
    assert (first, second) == (second + 1, first - 1)


def test_an_export_bundle_is_tallied_in_whole_inches_and_feet():
    """R9: 5 1/4 in by 8 1/2 ft is tallied 5 in by 8 ft; exact halves go up and down in turn."""
    tally = Tally()
    assert (tally.bundle_width_in(5.25), whole_feet(12 * 8.5)) == (5, 8)
    assert [tally.bundle_width_in(inches_from_mm(215.9)) for _ in range(3)] == [9, 8, 9]
    assert tally.bundle_width_in(8.51) == 9
