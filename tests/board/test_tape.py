"""Tapes: NIST Handbook 44 sec. 5.52 and 2014/32/EU Annex X (MI-008)."""

import math

import pytest

from scanner.board.tape import eu_tolerance_mm, tape_u_mm, us_tolerance_mm

FOOT = 304.8


@pytest.mark.parametrize(
    ("feet", "sixteenths"),
    [(1, 0.5), (6, 0.5), (7, 1), (8, 1), (30, 1), (31, 2), (56, 3), (100, 4)],
)
def test_us_steel_tape(feet, sixteenths):
    assert us_tolerance_mm(feet * FOOT) == pytest.approx(sixteenths * 25.4 / 16)


@pytest.mark.parametrize(
    ("tape_class", "by_metres"),
    [
        ("I", {1: 0.2, 2: 0.3, 3: 0.4, 5: 0.6, 8: 0.9, 10: 1.1}),
        ("II", {1: 0.5, 2: 0.7, 3: 0.9, 5: 1.3, 8: 1.9, 10: 2.3}),
        ("III", {1: 1.0, 2: 1.4, 3: 1.8, 5: 2.6, 8: 3.8, 10: 4.6}),
    ],
)
def test_european_classes_between_two_marks(tape_class, by_metres):
    for metres, mpe in by_metres.items():
        found = eu_tolerance_mm(metres * 1000, tape_class, hook=False)
        assert found == pytest.approx(mpe, abs=1e-9)


@pytest.mark.parametrize(
    ("tape_class", "eight_ft", "twelve_ft"), [("I", 0.5, 0.6), ("II", 1.1, 1.3), ("III", 2.1, 2.5)]
)
def test_european_classes_on_a_hooked_board(tape_class, eight_ft, twelve_ft):
    assert eu_tolerance_mm(8 * FOOT, tape_class) == pytest.approx(eight_ft)
    assert eu_tolerance_mm(12 * FOOT, tape_class) == pytest.approx(twelve_ft)


def test_a_width_by_class_ii_tape_has_the_worked_u():
    # U-2 (JCGM 100:2008): MPE 0.7, half a mm division, repeat 0.3 gives U 1.16 mm.
    assert eu_tolerance_mm(200.0) == pytest.approx(0.7)
    assert tape_u_mm(200.0, marks_mm=1.0, tolerance_mm=0.7) == pytest.approx(1.16, abs=0.005)


def test_an_unknown_tape_gets_the_worse_of_both_rules():
    assert tape_u_mm(8 * FOOT) >= tape_u_mm(8 * FOOT, tolerance_mm=eu_tolerance_mm(8 * FOOT))
    # 1/16 in of tape, half a sixteenth of reading, 0.3 mm: by hand.
    by_hand = 2 * math.sqrt(1.5875**2 / 3 + 0.79375**2 / 3 + 0.09)
    assert tape_u_mm(8 * FOOT) == pytest.approx(by_hand)


def test_impossible_lengths_are_a_programmer_s_mistake():
    with pytest.raises(ValueError):
        us_tolerance_mm(-1)
    with pytest.raises(ValueError):
        eu_tolerance_mm(-1)
    with pytest.raises(ValueError):
        us_tolerance_mm(101 * FOOT)
