"""Parts too small for their names get letters on the sheets, and a key beside the board."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.lot.totals import board_totals, layout_totals
from scanner.placement.layout import Placement
from scanner.placement.shop import Shop
from scanner.sheets.content import map_content
from scanner.sheets.drawing import Sketch, Text
from scanner.sheets.layout_sheet import layout_sheet
from scanner.sheets.map_page import map_page
from scanner.sheets.part_keys import PartKeys
from scanner.sheets.part_labels import write_label
from tests.common import plain_board, small_layout
from tests.instances.tiny import part
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on


def sheet(placements, parts, paper="a4"):
    return layout_sheet(*_contents(placements, parts), paper)


def board_map(placements, parts, size_mm=(4800, 200)):
    (content,), _ = _contents(placements, parts, size_mm)
    return map_page(content, "letter")


def _contents(placements, parts, size_mm=(4800, 200)):
    used = sorted({p.board for p in placements})
    boards = [plain_board(name, *size_mm, looked_over=True) for name in used]
    layout = replace(
        small_layout(), placements=tuple(placements), pieces=(), cuts=(), offcuts=(),
        unplaced=(), not_looked_over=(),
    )  # fmt: skip
    figures = layout_totals(layout)
    contents = [
        map_content(board, totals, layout, figures, parts, Shop(), {})
        for board, totals in zip(boards, board_totals(boards), strict=True)
    ]
    return contents, figures


def slats(many, length_mm, width_mm, board="P01", **more):
    return [
        Placement("slat", n, board, 300.0, 10.0 + (n - 1) * (width_mm + 3.0), length_mm, width_mm,
                  **more)
        for n in range(1, many + 1)
    ]  # fmt: skip


def test_a_name_that_fits_in_two_rows_is_written_and_needs_no_letter():
    apron = Placement("bench apron short", 1, "P01", 90.0, 100.0, 305.0, 88.0)
    (page,) = sheet([apron], (part("bench apron short", 2, 280, 76),))
    rows = words_on(page).splitlines()
    assert rows.count("bench apron") == rows.count("short 1") == 2
    assert all(s.bold for s in page.shapes if isinstance(s, Text) and s.text == "short 1")
    assert "a" not in rows


def test_slats_narrower_than_type_each_get_a_letter_that_the_key_explains():
    (page,) = sheet(slats(12, 300.0, 12.0), (part("slat", 12, 280, 8),), "letter")
    rows = words_on(page).splitlines()
    for number, letter in enumerate("abcdefghijkl", 1):
        # On both faces and in the key.
        assert rows.count(letter) == 3, letter
        assert rows[len(rows) - rows[::-1].index(letter)] == f"slat {number}"
    assert overlapping_texts(page) == []
    assert texts_off_the_page(page) == []


@pytest.mark.slow
@pytest.mark.parametrize("size_mm", [(4800, 200), (1000, 600)])
def test_a_board_s_own_map_explains_its_letters_too(size_mm):
    first, *_ = pages = board_map(slats(12, 80.0, 12.0), (part("slat", 12, 60, 8),), size_mm)
    rows = words_on(first).splitlines()
    for number, letter in enumerate("abcdefghijkl", 1):
        assert rows.count(letter) == 3, letter
        assert rows[len(rows) - rows[::-1].index(letter)] == f"slat {number}"
    assert all(overlapping_texts(page) == texts_off_the_page(page) == [] for page in pages)


def test_where_the_show_mark_leaves_no_room_for_a_name_the_key_says_which_face_shows():
    (page,) = sheet(slats(1, 200.0, 60.0, show_face=2), (part("slat", 1, 180, 50, "show"),))
    rows = words_on(page).splitlines()
    assert "a" in rows and "slat (SHOW: face 2)" in rows
    assert rows.count("slat") == 1, "face 1 has room for the name itself"


def test_each_board_has_a_key_of_its_own():
    both = slats(1, 20.0, 3.0) + slats(2, 20.0, 3.0, board="P02")[1:]
    (page,) = sheet(both, (part("slat", 2, 15, 3),))
    rows = words_on(page).splitlines()
    assert [rows[k + 1] for k, row in enumerate(rows) if row == "a"][2::3] == ["slat 1", "slat 2"]


def test_letters_go_on_after_z():
    keys = PartKeys()
    letters = [keys.letter(f"slat {n}") for n in range(1, 29)]
    assert letters[25:] == ["z", "aa", "ab"] and keys.letter("slat 27") == "aa"


def test_letters_of_parts_smaller_than_a_letter_stand_beside_them_and_hide_none():
    (page,) = sheet(slats(3, 20.0, 3.0), (part("slat", 3, 15, 3),))
    assert words_on(page).splitlines().count("c") == 3
    assert overlapping_texts(page) == []


def test_a_name_that_could_only_lie_over_a_cut_s_number_is_left_to_its_letter():
    ring = [(0.0, 0.0), (60.0, 0.0), (60.0, 14.0), (0.0, 14.0)]
    numbers = [box(0.0, 3.0, 10.0, 11.0), box(50.0, 3.0, 60.0, 11.0)]
    name = ["bench cleat 1"]
    (over,) = write_label(Sketch(60.0, 14.0), ring, name, 11.0, avoid=numbers)
    assert any(over.intersects(number) for number in numbers)
    assert not write_label(Sketch(60.0, 14.0), ring, name, 11.0, never=numbers)
    assert write_label(Sketch(60.0, 14.0), ring, ["leg 1"], 11.0, never=numbers)
