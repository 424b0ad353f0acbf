"""Lengths as people write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.units import (
    MM_PER_INCH,
    LengthError,
    decimal_text,
    inches_text,
    length_text,
    percent_text,
    read_length_mm,
    read_quarters,
    size_text,
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
