"""Sizes typed beside photos without a unit are meant in the lot's own."""

from types import SimpleNamespace

import pytest

from ui.own_units import thickness_with_unit, with_unit


def _desk(units: str) -> SimpleNamespace:
    return SimpleNamespace(lot=SimpleNamespace(shop=lambda: SimpleNamespace(units=units)))


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("3/4", "3/4 in"),
        ("\u00be", "\u00be in"),
        ("36 x 1 1/8", "36 in x 1 1/8 in"),
        ("96.5", "96.5 in"),
        ("<1/2", "<1/2 in"),
        ("-3/8", "-3/8 in"),
        ("2501mm", "2501mm"),
        ("8ft 2", "8ft 2"),
        ("", ""),
    ],
)
def test_a_bare_figure_in_a_lot_of_inches_is_one_of_inches(typed, read):
    assert with_unit(_desk("inch"), typed) == read
    assert with_unit(_desk("mm"), typed) == typed


def test_a_class_of_thickness_stays_one():
    assert thickness_with_unit(_desk("inch"), "4/4") == "4/4"
    assert thickness_with_unit(_desk("inch"), "1 1/16") == "1 1/16 in"
