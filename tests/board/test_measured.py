"""Lengths carry U and no more digits than U deserves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.board.measured import Measured, inch_u_text
from scanner.units import read_length_mm


@pytest.mark.parametrize(
    ("value", "u", "mm", "inch"),
    [
        (2438.13, 2.41, "2438 ± 3 mm", "96 in ± 1/8 in"),
        (183.24, 0.86, "183.2 ± 0.9 mm", "7 3/16 in ± 1/16 in"),
        (27.0, 1.0, "27.0 ± 1.0 mm", "1 1/16 in ± 1/16 in"),
        (2438.4, 29.3, "2438 ± 30 mm", "96 in ± 1 3/16 in"),
    ],
)
def test_a_length_is_printed_with_its_u(value, u, mm, inch):
    assert Measured(value, u).text() == mm
    assert Measured(value, u).text("inch") == inch


@given(st.floats(0.01, 200))
def test_the_printed_u_is_never_smaller_than_u(u):
    printed = float(Measured(1000.0, u).text().split("±")[1].removesuffix("mm"))
    assert printed >= u - 1e-6
    assert read_length_mm(inch_u_text(u)) >= u - 1e-6
