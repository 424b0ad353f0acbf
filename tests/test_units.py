"""Lengths as people write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.units import (
    MM2_PER_SQUARE_FOOT,
    MM_PER_INCH,
    LengthError,
    decimal_text,
    exact_text,
    inches_from_mm,
    inches_text,
    is_bare,
    is_bare_fraction,
    length_text,
    mm_from_inches,
    percent_text,
    read_length_mm,
    read_quarters,
    size_text,
    unbroken,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("23 1/2 in", 23.5 * 25.4),
        ("23-1/2 in", 23.5 * 25.4),
        ("23½ in", 23.5 * 25.4),
        ("7/8 in", 22.225),
        ('7/8"', 22.225),
        ("23.5 in", 596.9),
        ("597 mm", 597.0),
        ("2' 3\"", 27 * 25.4),
        ("2′ 3 1/4″", 27.25 * 25.4),
        ("8ft", 2438.4),
        ("8 feet 1 inch", 97 * 25.4),
        ("1,5 m", 1500.0),
        ("59,7 cm", 597.0),
        (" .5 in ", 12.7),
        ("0,375 in", 9.525),
        ("610", 610.0),
    ],
)
def test_lengths_are_read_as_makers_write_them(text, mm):
    assert read_length_mm(text) == pytest.approx(mm, abs=1e-9)


def test_a_bare_number_takes_the_shop_s_unit():
    assert read_length_mm("23 1/2", "inch") == pytest.approx(596.9)


@pytest.mark.parametrize("text", ["", "long", "-5 mm", "5 yards", "1/0 in", "5 mm wide", "3 4 in"])
def test_what_is_no_length_is_refused_with_its_own_text(text):
    with pytest.raises(LengthError) as caught:
        read_length_mm(text)
    assert f'"{text}"' in str(caught.value)


@pytest.mark.parametrize("text", ["1,200", "1,200 mm", "12,125 in"])
def test_a_comma_that_may_part_thousands_is_refused(text):
    with pytest.raises(LengthError, match="may mean"):
        read_length_mm(text)


@given(st.integers(min_value=0, max_value=16 * 240))
def test_sixteenths_survive_being_written_and_read(sixteenths):
    mm = sixteenths * MM_PER_INCH / 16
    text = inches_text(mm)
    assert read_length_mm(text) == pytest.approx(mm, abs=1e-9)
    assert inches_text(read_length_mm(text)) == text


@given(st.floats(min_value=0, max_value=20_000), st.sampled_from(["mm", "inch"]))
def test_text_to_mm_to_text_is_stable(mm, units):
    text = length_text(mm, units)
    assert length_text(read_length_mm(text), units) == text


@given(st.floats(min_value=0, max_value=20_000))
def test_a_length_in_sixteenths_is_off_by_a_thirty_second_at_most(mm):
    assert abs(read_length_mm(inches_text(mm)) - mm) <= MM_PER_INCH / 32 + 1e-9


def test_quarters_are_thickness_classes_not_fractions():
    assert [read_quarters(t) for t in ("4/4", "5/4", " 8/4 ", "3/8", "27 mm", "1/4")] == [
        4,
        5,
        8,
        None,
        None,
        None,
    ]


def test_a_size_names_its_unit_once():
    assert size_text(635.0, 82.4) == "635 × 82 mm"
    assert size_text(635.0, 82.55, "inch") == "25 × 3 1/4 in"


def test_a_share_is_never_rounded_to_none_or_all():
    assert percent_text(0.613) == "61 %"
    assert percent_text(0.004) == "under 1 %"
    assert percent_text(0.998) == "over 99 %"
    assert (percent_text(0.0), percent_text(1.0)) == ("0 %", "100 %")


def test_decimals_lose_their_trailing_zeros():
    assert [decimal_text(v) for v in (11.25, 5.0, 0.5, -0.001, 120.0)] == [
        "11.25",
        "5",
        "0.5",
        "0",
        "120",
    ]
    assert math.isclose(float(decimal_text(3.14159)), 3.14)


def test_the_units_of_the_trade():
    """Inch of 25.4 mm exactly (international yard and pound agreement, 1959; NIST SP 811, B.8)."""
    assert MM_PER_INCH == 25.4
    # 1 ft2 = 92 903.04 mm2 (NIST SP 811).
    assert pytest.approx(92_903.04) == MM2_PER_SQUARE_FOOT
    assert (mm_from_inches(2.0), inches_from_mm(50.8)) == (50.8, 2.0)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2 inches", 50.8), ("1 foot", 304.8), ("2 feet", 609.6), ("3″", 76.2), ("6′", 1828.8),
        ("1½ in", 38.1), ("2¼ in", 57.15), ("2¾ in", 69.85), ("1⅛ in", 28.575), ("1⅜ in", 34.925),
        ("1⅝ in", 41.275), ("1⅞ in", 47.625), ("½ in", 12.7), ("1000 mm", 1000.0),
        ("0,125 in", 3.175), ("2' 3", 685.8), ("2′3 1/4", 692.15), ("8 ft 1", 2463.8),
        ("1234,5 mm", 1234.5), ("1.200 m", 1200.0), ("7 ft 6 in", 2286.0), (",5 in", 12.7),
        ("12,12 in", 307.848), ("1,2345 m", 1234.5),
    ],
)  # fmt: skip
def test_every_unit_and_fraction_of_a_tape_is_read(text, mm):
    assert read_length_mm(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["5 6 mm", "5 mm 3", "1 m 20", "3 in 5", "in", "5 mm x", "1/2/3 in", "5 mm,"]
)
def test_what_only_begins_as_a_length_is_refused(text):
    with pytest.raises(LengthError, match="is no length"):
        read_length_mm(text)


def test_a_doubtful_comma_says_both_readings():
    with pytest.raises(LengthError, match=r"may mean 1200 or 1\.200 "):
        read_length_mm("1,200 mm")


def test_inches_are_rounded_to_sixteenths_and_keep_their_sign():
    assert inches_text(0.0) == "0 in"
    assert inches_text(MM_PER_INCH / 16) == "1/16 in"
    assert inches_text(-MM_PER_INCH / 2) == "-1/2 in"
    assert inches_text(-1.5 * MM_PER_INCH) == "-1 1/2 in"
    # Less than half a sixteenth is nothing, and nothing has no sign.
    assert inches_text(-0.5) == "0 in"
    assert inches_text(10 * MM_PER_INCH / 16) == "5/8 in"
    assert inches_text(2 * MM_PER_INCH) == "2 in"


def test_millimetres_are_printed_with_as_many_digits_as_asked():
    assert [length_text(12.345), length_text(12.345, "mm", 1), length_text(12.7, "inch", 1)] == [
        "12 mm",
        "12.3 mm",
        "1/2 in",
    ]


def test_quarters_begin_at_two():
    assert [read_quarters(t) for t in ("2/4", "0/4", "16/4", "100/4", "4/4 x")] == [
        2,
        None,
        16,
        None,
        None,
    ]


def test_shares_at_the_border_of_whole_per_cents():
    assert [percent_text(s) for s in (0.006, 0.994, 0.5, 1.2)] == ["1 %", "99 %", "50 %", "120 %"]
    assert [percent_text(s) for s in (0.0049, 0.9951)] == ["under 1 %", "over 99 %"]
    assert percent_text(-0.001) == "0 %"


def test_decimals_keep_zeros_before_the_point():
    assert [decimal_text(100.0, 0), decimal_text(-2.50), decimal_text(1.005, 3)] == [
        "100",
        "-2.5",
        "1.005",
    ]


def test_a_size_that_is_no_sixteenth_shows_its_millimetres_in_an_inch_shop():
    # By hand: 13/16 in = 20.6375 mm, 3/4 in = 19.05 mm.
    assert exact_text(20.0, "inch") == "13/16 in (20 mm)"
    assert exact_text(19.05, "inch") == "3/4 in"
    assert exact_text(20.0) == "20 mm"
    # Off a sixteenth by 0.09 mm to either side it is one, by 0.11 mm it is none.
    assert [exact_text(19.05 + off, "inch") for off in (-0.09, 0.09)] == ["3/4 in"] * 2
    assert exact_text(19.05 - 0.11, "inch") == "3/4 in (18.9 mm)"
    assert exact_text(19.05 + 0.11, "inch") == "3/4 in (19.2 mm)"
    assert exact_text(19.05 + 0.16, "inch") == "3/4 in (19.2 mm)"


@pytest.mark.parametrize(
    ("text", "bare", "fraction"),
    [
        ("597", True, False),
        (" 23.5 ", True, False),
        ("23 1/2", True, True),
        ("23-1/2", True, True),
        ("3/4", True, True),
        ("\u00be", True, True),
        ("23\u00bd", True, True),
        ("23 1/2 in", False, False),
        ("3/4 in", False, False),
        ("2' 3", False, False),
        ("", False, False),
        ("4/4 or so", False, False),
    ],
)
def test_a_figure_without_a_unit_is_told_from_one_with(text, bare, fraction):
    assert (is_bare(text), is_bare_fraction(text)) == (bare, fraction)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("3/4\u201d", 19.05), ("3/4\u201c", 19.05), ("2\u2019 3\u201d", 685.8),
        ("3\u20444 in", 19.05), ("23\u20131/2 in", 596.9), ("5''", 127.0), ("5'3''", 1600.2),
        ("23 1/2 in.", 596.9), ("5 ft. 3 in.", 1600.2), ("1 ft.5", 317.5),
        ("5'-3 1/2\"", 1612.9), ("5' - 3\"", 1600.2),
        ("\u202d1100\u00a0mm\u202c", 1100.0), ("1100\u200b", 1100.0), ("\ufeff1100", 1100.0),
    ],
)  # fmt: skip
def test_lengths_are_read_as_spreadsheets_and_drawings_write_them(text, mm):
    assert read_length_mm(text) == pytest.approx(mm, abs=1e-9)
    assert is_bare(text) == ("1100" in text and "mm" not in text)


@pytest.mark.parametrize(
    "text",
    ["1'200", "1'200 mm", "1\u2019200", "2 ft 300 mm", "12 in 3 mm", "2 ft 3 ft", "2' 12\"",
     "1 m 1500 mm"],
)  # fmt: skip
def test_a_mark_that_parts_thousands_is_no_foot(text):
    """1'200 mm was read as one foot and 200 mm."""
    with pytest.raises(LengthError, match="is no length"):
        read_length_mm(text)


def test_a_thickness_class_is_one_with_a_typeset_stroke_too():
    assert read_quarters("4\u20444\u200b") == 4


def test_a_size_stays_on_one_line_and_other_words_may_part():
    bound = unbroken("6 ft of 3 1/4 in, 12.5 ± 0.5 mm, 3 inner and 4 means")
    assert bound.replace("\u00a0", "_") == "6_ft of 3_1/4_in, 12.5_±_0.5_mm, 3 inner and 4 means"
