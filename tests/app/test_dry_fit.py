"""Sheets of groups have names of their own, whatever the groups are called."""

import pytest

from scanner.app.fitting.dry_fit import beside, stem_of


@pytest.mark.parametrize(
    ("title", "stem"),
    [
        ("bench leg", "bench-leg"),
        ("Tür/links", "tür-links"),
        ("T\u0075\u0308r", "tür"),
        ("полка", "полка"),
        ("../x", "x"),
        ("a_b", "a-b"),
        ("...", "group"),
    ],
)
def test_a_group_s_file_name_keeps_the_letters_of_its_language(title, stem):
    assert stem_of(title) == stem


def test_no_group_s_sheets_take_the_place_of_another_s():
    there = {"a-b.pdf": b"", "a-b.png": b"", "a-b-2.png": b""}
    second = beside({"a-b.pdf": b"2", "a-b.png": b"2"}, "a-b", there)
    assert second == {"a-b_2.pdf": b"2", "a-b_2.png": b"2"}
    third = beside({"a-b.pdf": b"3"}, "a-b", there | second)
    assert third == {"a-b_3.pdf": b"3"}
    # The second page of one is named as the only page of the other.
    assert beside({"a-b-2.pdf": b"", "a-b-2.png": b""}, "a-b-2", there) == {
        "a-b-2_2.pdf": b"", "a-b-2_2.png": b"",
    }  # fmt: skip
    assert beside({"c.pdf": b""}, "c", there) == {"c.pdf": b""}
