"""The figures of the yard card, worked by hand."""

import pytest

from scanner.board.form import bend_of_piece_mm
from scanner.lot.strip_widths import board_for
from scanner.lot.yard_card import SIGHT_MM, card_sections, still_to_find
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from tests.common import bench_parts, small_layout

PARTS = (
    Part("seat slat", 3, 1100.0, 92.0, 20.0, Faces.BOTH, species="white ash", spares=1),
    Part("leg", 4, 430.0, 70.0, 20.0, Faces.BOTH, species="white ash"),
    Part("side", 2, 330.0, 146.0, 19.0, Faces.BOTH, species="walnut"),
    Part("peg", 9, 60.0, 12.0, 12.0, Faces.HIDDEN, species="walnut", filler=True),
)


def section(**more):
    return card_sections(still_to_find(PARTS, None), Shop(), **more)[0]


def test_widths_lengths_and_running_length_are_rough():
    ash = section()
    # Allowances of 25 mm and 12 mm; the spare slat is bought too.
    assert [(r.name, r.count, r.length_mm, r.width_mm) for r in ash.rows] == [
        ("seat slat", 4, 1125, 104),
        ("leg", 4, 455, 82),
    ]
    assert ash.running_mm == ((104, 4500), (82, 1820))
    # Each edge loses 1 mm of U and 1.5 mm of sawing tolerance.
    assert (ash.narrowest_mm, ash.widest_mm) == (82 + 5, 104 + 5)
    assert ash.two_abreast_mm == pytest.approx(2 * 104 + 3.2 + 5)
    slat = next(part for part in ash.need.parts if part.name == "seat slat")
    assert ash.widest_mm == board_for(1, slat, Shop())
    assert ash.two_abreast_mm == pytest.approx(board_for(2, slat, Shop()))
    assert ash.longest.name == "seat slat"


def test_the_bend_allowed_leaves_the_longest_part_its_allowance():
    ash = section()
    # The same arc over the part's own length bends by its width allowance, 12 mm; the square law
    # is the flat arc's, so the exact arc differs a little.
    own = bend_of_piece_mm(ash.crook_mm, SIGHT_MM, 1125)
    assert own == pytest.approx(12.0, rel=0.01)
    # 25.4 mm rough, 3.2 mm clean-up, 20 mm finished leave 2.2 mm for bow.
    assert bend_of_piece_mm(ash.bow_mm, SIGHT_MM, 1125) == pytest.approx(2.2, rel=0.01)


def test_a_budget_gives_the_highest_price_of_a_board_foot():
    sections = card_sections(still_to_find(PARTS, None), Shop(), budget=240.0)
    feet = sum(one.need.rough_feet for one in sections)
    assert sections[0].price_limits == pytest.approx((240 / (1.2 * feet), 240 / (1.5 * feet)))
    assert section().price_limits == ()


def test_what_a_layout_has_placed_is_not_looked_for():
    parts, layout = bench_parts(), small_layout()
    before = {part.name: part.quantity + part.spares for part in parts}
    left = {part.name: part.quantity for part in still_to_find(parts, layout)}
    placed = [p.part for p in layout.placements if p.state != "spoiled"]
    for name, count in before.items():
        assert left.get(name, 0) == max(count - placed.count(name), 0)
    assert sum(left.values()) < sum(before.values())


def test_fillers_are_not_looked_for():
    assert "peg" not in {part.name for part in still_to_find(PARTS, None)}


TOP = Part("top", 2, 1000.0, 300.0, 19.0, Faces.SHOW, staves="3")


def test_a_glued_panel_is_looked_for_as_its_staves_not_as_one_wide_board():
    (card,) = card_sections((TOP,), Shop())
    # 312 mm rough in three, and 6 mm for jointing each.
    assert [(r.name, r.count, r.length_mm, r.width_mm) for r in card.rows] == [
        ("top, stave", 6, 1025, 110)
    ]
    assert card.widest_mm == 110 + 5
    assert card.need.rough_feet == pytest.approx(6 * 1025 * 110 / 304.8**2)
    assert [(one.of, one.times) for one in card.from_one_board] == [((("top, stave", 3),), 2)]


def test_staves_left_open_are_the_fewest_that_the_jointer_takes():
    # 150 mm jointer: 162 mm in two staves are 156, in three 110 + 6; 146 + 12 mm needs no more
    # than two, 138 mm none.
    wide, small, whole = (
        Part("top", 1, 1000.0, width, 19.0, Faces.SHOW, staves="auto")
        for width in (300.0, 146.0, 138.0)
    )
    rows = [card_sections((one,), Shop())[0].rows[0] for one in (wide, small, whole)]
    assert [(r.name, r.count, r.width_mm) for r in rows] == [
        ("top, stave", 3, 110),
        ("top, stave", 2, 85),
        ("top", 1, 150),
    ]


def test_what_must_come_from_one_board_is_said_with_the_length_of_a_row():
    slats = Part("slat", 4, 1000.0, 90.0, 19.0, Faces.BOTH, match="seat:in_order")
    doors = Part("door", 2, 400.0, 90.0, 19.0, Faces.BOTH, match="doors")
    lone = Part("sign", 1, 400.0, 90.0, 19.0, Faces.BOTH, match="alone")
    (card,) = card_sections((slats, doors, lone), Shop())
    # Four of 1025 mm with three kerfs of 3.2 between; a single part is no set.
    assert [(one.name, one.of, one.in_a_row_mm) for one in card.from_one_board] == [
        ("seat", (("slat", 4),), pytest.approx(4109.6)),
        ("doors", (("door", 2),), None),
    ]
